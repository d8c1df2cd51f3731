package subs

import (
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
// quadrature, and the disc grows in proportion to the time since the onset:
// FWHM = b √(1 + s² (t - t0)²) at the middle of each exposure. The width between
// the half maxima of seeing convolved with a disc grows faster than that, but the
// FWHM here is a fitted profile's, which on made subs follows it up to twice the
// width. There is one b a filter, scaled to one airmass as seeing goes with airmass
// to the power 0.6 (Fried 1966, from memory). Onset and speed are those of the
// least squares of ln FWHM, outliers clipped. Seeing wanders slowly, so that what
// is left of subs that follow each other goes together and counts for fewer.

// FocusDrift is a run of subs over which focus was lost.
type FocusDrift struct {
	Camera         names.Name
	Since, Until   time.Time     // start of the last sub in focus and of the last one out of it
	SinceErr       time.Duration // standard error of Since, at the least: how seeing wanders over hours, a night does not tell
	Subs           int
	Filters        []names.Name // in order of first use
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
	focusFewest   = 8     // subs before a curve is looked for
	focusLost     = 5     // of them after the onset
	focusShows    = 1.12  // widening by the end that is worth telling
	focusFits     = 0.5   // of the squared residuals without a drift, those with it at most
	focusSurely   = 4     // standard errors from which a speed is one
	focusOutlier  = 3     // times the scatter, from which a residual counts as an outlier
	filtersDiffer = 0.08  // of ln FWHM, by which filters differ in focus
	focusOnsets   = 100   // onsets that are tried, at most
	focusLeast    = 0.005 // scatter of ln FWHM, to which widths are measured at best
	refocusAt     = 1.10  // widening at which to focus again: 17 % of a star's peak
	focusStars    = 10    // stars behind a width, and
	focusSure     = 0.03  // its relative error at most, to count
	airmassPow    = 0.6
)

// width is one sub's width on the curve.
type width struct {
	e      *evidence
	hours  float64 // from the middle of the first exposure to that of this one
	ln     float64 // ln FWHM at the lowest airmass, along the narrow axis of trailed stars
	err    float64 // of ln, by what was measured; the rest of the scatter is the air's
	filter int
}

// inFocus is ln FWHM with what a drift added taken off.
func (w *width) inFocus(since, speed float64) float64 {
	return w.ln - 0.5*math.Log1p(square(speed*math.Max(0, w.hours-since)))
}

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
	filters := map[names.Name]int{}
	for _, e := range night {
		size := e.Field
		if size == nil || !(size.FWHM.V > 0) || e.Start.IsZero() || size.Defocused ||
			size.FWHM.N < focusStars || size.FWHM.KnownErr() > focusSure*size.FWHM.V {
			continue
		}
		if _, ok := filters[e.Filter]; !ok {
			filters[e.Filter] = len(filters)
		}
		w := width{e: e, ln: math.Log(size.FWHM.V), err: size.FWHM.KnownErr() / size.FWHM.V, filter: filters[e.Filter]}
		if x := e.Sky.Airmass; x.OK() && x.V >= 1 {
			w.ln -= airmassPow * math.Log(x.V)
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
	return out
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
// the widths fall, and a drift that ends there is followed by another, fits far
// better than one that goes on.
func splitFocus(all []width) [][]width {
	if len(all) < focusFewest {
		return [][]width{all}
	}
	scatter := widthScatter(all)
	whole, best, at := bestFocus(all, scatter).least*float64(len(all)), 0.0, 0
	for i := focusFewest; i+3 <= len(all); i++ {
		if before, after := all[i-3:i], all[i:i+3]; !fallsBetween(before, after, scatter) {
			continue
		}
		after := slices.Clone(all[i:])
		for k := range after {
			after[k].hours -= all[i].hours
		}
		gain := whole - bestFocus(all[:i], scatter).least*float64(i) - bestFocus(after, scatter).least*float64(len(after))
		if gain > best {
			best, at = gain, i
		}
	}
	if !(best > (1-focusFits)*whole) {
		return [][]width{all}
	}
	rest := slices.Clone(all[at:])
	for i := range rest {
		rest[i].hours -= all[at].hours
	}
	return append([][]width{all[:at]}, splitFocus(rest)...)
}

// fallsBetween tells whether the widths fall from three subs to the next three.
func fallsBetween(before, after []width, scatter float64) bool {
	mean := func(w []width) float64 { return (w[0].ln + w[1].ln + w[2].ln) / 3 }
	return mean(before)-mean(after) > math.Max(2*scatter, math.Log(focusShows)/2)
}

// fitFocus finds the drift in one stretch.
func fitFocus(all []width) (FocusDrift, bool) {
	if len(all) < focusFewest {
		return FocusDrift{}, false
	}
	scatter := widthScatter(all)
	none, _ := residuals(all, 0, 0, scatter)
	fit := bestFocus(all, scatter)
	onset, speed := fit.onset, fit.speed
	last := all[len(all)-1]
	widened := math.Sqrt(1 + square(speed*(last.hours-all[onset].hours)))
	if len(all)-1-onset < focusLost || !(fit.least < focusFits*none) || widened < focusShows {
		return FocusDrift{}, false
	}
	d := FocusDrift{Camera: last.e.Camera, Since: all[onset].e.Start, Until: last.e.Start,
		SinceErr: time.Duration(fit.sinceErr * float64(time.Hour)), Subs: len(all) - 1 - onset, Widened: widened}
	for _, w := range all[onset:] {
		d.NoAltitude = d.NoAltitude || !w.e.Sky.Airmass.OK()
		if !slices.Contains(d.Filters, w.e.Filter) {
			d.Filters = append(d.Filters, w.e.Filter)
		}
	}
	// Fitted to every second sub, twice: how sure the speed is.
	var half [2][]width
	for i, w := range all {
		half[i%2] = append(half[i%2], w)
	}
	err := math.Abs(bestFocus(half[0], scatter).speed-bestFocus(half[1], scatter).speed) / 2
	if !(speed > focusSurely*err) {
		return FocusDrift{}, false
	}
	_, base := residuals(all, all[onset].hours, speed, scatter)
	inFocus := math.Exp(base[all[onset].filter])
	d.BlurPerHour = stats.Known(speed*inFocus, err*inFocus, len(all))
	minutes := 60 * math.Sqrt(refocusAt*refocusAt-1) / speed
	d.RefocusMinutes = stats.Known(minutes, minutes*err/speed, len(all))
	d.RefocusDegrees = stats.Missing(AirNotTold)
	if cooled := all[onset].e.AmbientTemp - last.e.AmbientTemp; !math.IsNaN(cooled) {
		perMinute := math.Abs(cooled) / (60 * (last.hours - all[onset].hours))
		d.RefocusDegrees = d.RefocusMinutes.Scaled(perMinute)
	}
	return d, true
}

// focusFit is the drift that leaves least of the widths.
type focusFit struct {
	onset    int     // the last sub in focus
	speed    float64 // that the disc grows by, of the width in focus an hour
	least    float64 // mean square residual of ln FWHM
	sinceErr float64 // h, standard error of the onset's time
}

// bestFocus looks for the onset and the speed that leave least.
func bestFocus(all []width, scatter float64) focusFit {
	best := focusFit{least: math.Inf(1)}
	span := all[len(all)-1].hours
	if !(span > 0) {
		return best
	}
	every := 1 + len(all)/focusOnsets
	left := make([]float64, 0, len(all)/every+1)
	for i := 0; i+1 < len(all); i += every {
		speed, least := bestSpeed(all, i, scatter)
		if left = append(left, least); least < best.least {
			best = focusFit{onset: i, speed: speed, least: least}
		}
	}
	best.sinceErr = best.onsetErr(all, left, every, scatter)
	return best
}

// bestSpeed is the speed since an onset that leaves least: up to three discs at the
// end, in steps of 13 % first, and then in finer ones around the best.
func bestSpeed(all []width, onset int, scatter float64) (speed, least float64) {
	const coarse, fine = 1.13, 1.03
	since := all[onset].hours
	least = math.Inf(1)
	try := func(s float64) {
		if r, _ := residuals(all, since, s, scatter); r < least {
			speed, least = s, r
		}
	}
	most := 3 / (all[len(all)-1].hours - since)
	for step := range 30 {
		try(most * math.Pow(coarse, -float64(step)))
	}
	middle := speed
	for step := -4; step <= 4; step++ {
		try(middle * math.Pow(fine, float64(step)))
	}
	return speed, least
}

// onsetErr is a quarter of the stretch of time over which onsets leave hardly more
// than the best: by four squared standard deviations of one width on its own, so
// that it spans two errors either way. Residuals that go together from sub to sub
// by a correlation r count for (1-r)/(1+r) of as many (Bartlett 1946, J. R. Stat.
// Soc. Suppl. 8, 27, from memory); of a few that a curve was fitted to, r comes
// out low by about (3+5r)/N.
func (f focusFit) onsetErr(all []width, left []float64, every int, scatter float64) float64 {
	const fitted = 4 // onset, speed, the width of a filter or two
	rest := leftOver(all, f, scatter)
	var own, next float64
	for i, r := range rest {
		own += r*r - all[i].err*all[i].err
		if i > 0 {
			next += r * rest[i-1]
		}
	}
	n, r := float64(len(all)), 0.0
	if own > 0 && next > 0 && n > 2*fitted {
		r = math.Min(0.9, (next/own+3/n)/(1-5/n))
	}
	most := f.least * (1 + 4*(1+r)/(1-r)/math.Max(1, n-fitted))
	first, last := f.onset, f.onset
	for k, l := range left {
		if l <= most {
			first, last = min(first, k*every), max(last, k*every)
		}
	}
	spacing := all[len(all)-1].hours / (n - 1) * float64(every)
	return math.Hypot((all[last].hours-all[first].hours)/4, spacing/math.Sqrt(12))
}

// leftOver are the residuals of a fit.
func leftOver(all []width, f focusFit, scatter float64) []float64 {
	_, base := residuals(all, all[f.onset].hours, f.speed, scatter)
	rest := make([]float64, len(all))
	for i, w := range all {
		rest[i] = w.inFocus(all[f.onset].hours, f.speed) - base[w.filter]
	}
	return rest
}

// residuals is the mean square residual of a drift, each beyond
// focusOutlier times the scatter counted by its size, and ln b of each filter.
func residuals(all []width, since, speed, scatter float64) (float64, []float64) {
	var of [][]float64
	rest := make([]float64, len(all))
	for i, w := range all {
		rest[i] = w.inFocus(since, speed)
		for len(of) <= w.filter {
			of = append(of, nil)
		}
		of[w.filter] = append(of[w.filter], rest[i])
	}
	base := make([]float64, len(of))
	for f, x := range of {
		if len(x) > 0 {
			base[f] = clippedMean(x, focusOutlier*scatter)
		}
	}
	sum := 0.0
	for i, w := range all {
		sum += huber(rest[i]-base[w.filter], focusOutlier*scatter)
	}
	// Filters differ little: what one that was never in focus leaves open.
	for _, b := range base {
		if b != 0 {
			sum += square(scatter / filtersDiffer * (b - base[all[0].filter]))
		}
	}
	return sum / float64(len(all)), base
}

// huber is the square of a residual, beyond k growing as its size (Huber 1964, Ann.
// Math. Statist. 35, 73).
func huber(r, k float64) float64 {
	if r = math.Abs(r); r > k {
		return k * (2*r - k)
	}
	return r * r
}

// clippedMean of the values within so much of their median.
func clippedMean(x []float64, within float64) float64 {
	middle := stats.Median(x)
	sum, n := 0.0, 0.0
	for _, v := range x {
		if math.Abs(v-middle) <= within {
			sum, n = sum+v, n+1
		}
	}
	if n == 0 {
		return middle
	}
	return sum / n
}

// widthScatter is how far widths scatter from sub to sub: by the differences of
// those that follow each other through one filter, which a drift hardly touches.
func widthScatter(all []width) float64 {
	var steps []float64
	last := map[int]float64{}
	for _, w := range all {
		if before, ok := last[w.filter]; ok {
			steps = append(steps, math.Abs(w.ln-before)/math.Sqrt2)
		}
		last[w.filter] = w.ln
	}
	if len(steps) == 0 {
		return focusLeast
	}
	return math.Max(focusLeast, stats.MADToSigma*stats.Median(steps))
}
