package subs

import (
	"cmp"
	"math"
	"slices"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Focus over all filters. A tube that cools shrinks, whatever filter is in front:
// the widths of all filters are followed as one curve, each over its own width
// in focus.
//
// Model: the image is seeing and a disc out of focus, whose widths add in
// quadrature, and the disc grows in proportion to the time since the onset, as where
// the tube cools, or is there at once, as where something slipped or was moved:
// FWHM = b √(1 + s² (t - t0)²) at the middle of each exposure, or b √(1 + s²) from
// the onset on; whichever leaves less. The width between
// the half maxima of seeing convolved with a disc grows faster than that, but the
// FWHM here is a fitted profile's, which on made subs follows it up to twice the
// width. There is one b a filter, scaled to one airmass as seeing goes with airmass
// to the power 0.6 (Fried 1966, from memory), and for each spell of subs, since seeing
// changes while nothing is shot. Onset and disc are those of the
// least squares of ln FWHM, outliers clipped. Seeing wanders slowly, so that what
// is left of subs that follow each other goes together and counts for fewer: a loss of
// focus is told where so few, at chance, would not leave as little, however much of the
// airmass shows in the widths.

// FocusDrift is a run of subs over which focus was lost.
type FocusDrift struct {
	Camera         names.Name
	Since, Until   time.Time     // start of the last sub in focus and of the last one out of it
	SinceErr       time.Duration // standard error of Since, at the least: how seeing wanders over hours, a night does not tell
	Subs           int
	Filters        []names.Name // in order of first use
	Sudden         bool         // it was lost from one sub to the next, and no further
	BlurPerHour    stats.Value  // px/h by which the disc out of focus grows, as FWHM
	Widened        float64      // FWHM of the last sub over that in focus
	NoAltitude     bool         // what the target's altitude makes of the widths is in them: it is not known
	RefocusMinutes stats.Value  // after which the stars have widened by refocusAt
	RefocusDegrees stats.Value  // °C of the air in that time
}

// FocusLaw is where the focuser stood after it was moved.
type FocusLaw struct {
	Camera         names.Name
	Runs           int         // times that it was moved
	StepsPerDegree stats.Value // by the temperature of the air
	Offsets        []FilterOffset
}

// FilterOffset is how far one filter's focus lies from the first one's, steps.
type FilterOffset struct {
	Filter names.Name
	Steps  stats.Value
}

const (
	focusFewest = 8     // subs before a curve is looked for
	focusLost   = 5     // of them after the onset
	focusShows  = 1.12  // widening by the end that is worth telling
	focusSplits = 0.5   // of the squared residuals that a split takes away, at least
	focusLeast  = 0.005 // scatter of ln FWHM, to which widths are measured at best
	refocusAt   = 1.10  // widening at which to focus again: 17 % of a star's peak
	focusStars  = 10    // stars behind a width, and
	focusSure   = 0.03  // its relative error at most, to count
	airmassPow  = 0.6
)

// focusDrifts finds the drifts of every camera's sessions. In: in time order.
func focusDrifts(night []*evidence) []FocusDrift {
	var out []FocusDrift
	for _, stretch := range focusStretches(night) {
		for _, piece := range splitFocus(stretch) {
			if d, ok := fitFocus(piece); ok {
				out = append(out, d)
			}
		}
	}
	return out
}

// focusStretches cuts each camera's subs where nothing was shot for long and where
// the focuser was moved.
func focusStretches(night []*evidence) [][]width {
	var out [][]width
	last := map[names.Name]int{} // stretch of each camera
	for _, e := range night {
		size := e.Field
		if size == nil || !(size.FWHM.V > 0) || e.Start.IsZero() || size.Defocused ||
			size.FWHM.N < focusStars || size.FWHM.KnownErr() > focusSure*size.FWHM.V {
			continue
		}
		w := width{e: e, subs: []*evidence{e}, ln: math.Log(size.FWHM.V), err: size.FWHM.KnownErr() / size.FWHM.V}
		if x := e.Sky.Airmass; x.OK() && x.V >= 1 {
			w.air = airmassPow * math.Log(x.V)
			w.ln -= w.air
		}
		if e.trailed().Cause != "" {
			w.ln += 0.5 * math.Log(1-math.Min(e.trail, 0.9))
		}
		k, ok := last[e.Camera]
		if !ok || cutsFocus(out[k], w) {
			k = len(out)
			out, last[e.Camera] = append(out, nil), k
		}
		if len(out[k]) > 0 {
			w.hours = e.middle().Sub(out[k][0].e.middle()).Hours()
		}
		out[k] = append(out[k], w)
	}
	for k := range out {
		setLevels(out[k])
		out[k] = together(out[k])
	}
	return out
}

// together takes widths that follow each other through one filter as one, their median, so
// that some focusWidths are left: focus and seeing hardly change from one short exposure to
// the next, while each curve that is tried, and how many are, goes with the widths. Where
// filters take turns the next through one filter is a turn away.
func together(all []width) []width {
	levels := 0
	for _, w := range all {
		levels = max(levels, w.level+1)
	}
	each := 1 + len(all)/focusWidths
	open, first := make([][]width, levels), make([]int, levels)
	var out []width
	for i, w := range all {
		k := w.level
		if len(open[k]) == each || i-first[k] >= each*levels {
			out, open[k] = oneOf(out, open[k]), nil
		}
		if open[k] == nil {
			first[k] = i
		}
		open[k] = append(open[k], w)
	}
	for _, rest := range open {
		out = oneOf(out, rest)
	}
	slices.SortStableFunc(out, func(a, b width) int { return cmp.Compare(a.hours, b.hours) })
	return out
}

// oneOf adds the width of several, at their middle.
func oneOf(to, alike []width) []width {
	if len(alike) == 0 {
		return to
	}
	mean := func(figure func(width) float64) float64 {
		sum := 0.0
		for _, w := range alike {
			sum += figure(w)
		}
		return sum / float64(len(alike))
	}
	w := alike[len(alike)/2]
	lns := make([]float64, len(alike))
	w.subs = nil
	for i, one := range alike {
		lns[i] = one.ln
		w.subs = append(w.subs, one.subs...)
	}
	w.ln, w.air = stats.Median(lns), mean(func(w width) float64 { return w.air })
	w.hours = mean(func(w width) float64 { return w.hours })
	w.err = math.Sqrt(mean(func(w width) float64 { return w.err * w.err }) / float64(len(alike)))
	return append(to, w)
}

// setLevels tells the widths in focus apart: of each filter in each spell of subs.
func setLevels(all []width) {
	type level struct {
		filter names.Name
		spell  int
	}
	levels, spell := map[level]int{}, 0
	for i := range all {
		if i > 0 && all[i].e.Start.Sub(all[i-1].e.Start) > nearbyTime {
			spell++
		}
		of := level{all[i].e.Filter, spell}
		if _, ok := levels[of]; !ok {
			levels[of] = len(levels)
		}
		all[i].level = levels[of]
	}
}

// middle of a sub's exposure; its start where the exposure is unknown.
func (s *Sub) middle() time.Time {
	if math.IsNaN(s.Exposure) {
		return s.Start
	}
	return s.Start.Add(time.Duration(s.Exposure / 2 * float64(time.Second)))
}

// cutsFocus tells whether a sub begins a new stretch.
func cutsFocus(before []width, w width) bool {
	p := before[len(before)-1]
	if w.e.Start.Sub(p.e.Start) > sessionGap || w.e.Target != p.e.Target {
		return true
	}
	a, b := p.e.FocusPosition, w.e.FocusPosition
	return !math.IsNaN(a) && !math.IsNaN(b) && a != b
}

// splitFocus cuts a stretch where focus was set again without a word of it: where
// the widths fall, and a loss that ends there, with what follows, fits far
// better than one that goes on.
func splitFocus(all []width) [][]width {
	if len(all) < focusFewest {
		return [][]width{all}
	}
	scatter := widthScatter(all)
	whole, best, at := bestFocus(all, scatter).sum(all), 0.0, 0
	for i := focusFewest; i+3 <= len(all); i++ {
		if before, after := all[i-3:i], all[i:i+3]; !fallsBetween(before, after, scatter) {
			continue
		}
		after := fromZero(all[i:])
		gain := whole - bestFocus(all[:i], scatter).sum(all[:i]) - bestFocus(after, scatter).sum(after)
		if gain > best {
			best, at = gain, i
		}
	}
	if !(best > focusSplits*whole) {
		return [][]width{all}
	}
	return append([][]width{all[:at]}, splitFocus(fromZero(all[at:]))...)
}

// fromZero are widths of a later part, from its own beginning.
func fromZero(part []width) []width {
	part = slices.Clone(part)
	for i, begins := 0, part[0].hours; i < len(part); i++ {
		part[i].hours -= begins
	}
	setLevels(part)
	return part
}

// fallsBetween tells whether the widths fall from three subs to the next three.
func fallsBetween(before, after []width, scatter float64) bool {
	mean := func(w []width) float64 { return (w[0].ln + w[1].ln + w[2].ln) / 3 }
	return mean(before)-mean(after) > math.Max(2*scatter, math.Log(focusShows)/2)
}

// fitFocus finds the loss of focus in one stretch.
func fitFocus(all []width) (FocusDrift, bool) {
	if len(all) < focusFewest {
		return FocusDrift{}, false
	}
	fit := bestFocus(all, widthScatter(all)).wandering(all)
	onset, last := all[fit.onset], all[len(all)-1]
	lost := countSubs(all[fit.onset+1:])
	widened := math.Exp(fit.widens(all, len(all)-1))
	if lost < focusLost || widened < focusShows || fit.byChance(all) {
		return FocusDrift{}, false
	}
	sinceErr, discErr := fit.errors(all)
	d := FocusDrift{Camera: last.e.Camera, Since: onset.e.Start, Until: last.subs[len(last.subs)-1].Start, Sudden: fit.sudden,
		SinceErr: time.Duration(sinceErr * float64(time.Hour)), Subs: lost, Widened: widened}
	for _, w := range all[fit.onset:] {
		d.NoAltitude = d.NoAltitude || !w.e.Sky.Airmass.OK()
		if !slices.Contains(d.Filters, w.e.Filter) {
			d.Filters = append(d.Filters, w.e.Filter)
		}
	}
	if d.Sudden {
		d.BlurPerHour, d.RefocusMinutes, d.RefocusDegrees = stats.Missing(FocusJumped), stats.Missing(FocusJumped), stats.Missing(FocusJumped)
		return d, true
	}
	inFocus := math.Exp(fit.base[onset.level])
	d.BlurPerHour = stats.Known(fit.disc*inFocus, discErr*inFocus, countSubs(all))
	minutes := 60 * math.Sqrt(refocusAt*refocusAt-1) / fit.disc
	d.RefocusMinutes = stats.Known(minutes, minutes*discErr/fit.disc, countSubs(all))
	d.RefocusDegrees = stats.Missing(AirNotTold)
	if cooled := onset.e.AmbientTemp - last.e.AmbientTemp; !math.IsNaN(cooled) {
		perMinute := math.Abs(cooled) / (60 * (last.hours - onset.hours))
		d.RefocusDegrees = d.RefocusMinutes.Scaled(perMinute)
	}
	return d, true
}

func countSubs(all []width) int {
	n := 0
	for _, w := range all {
		n += len(w.subs)
	}
	return n
}
