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
// FWHM = b √(1 + s² (t - t0)²), with one b a filter, scaled to one airmass as
// seeing goes with airmass to the power 0.6 (Fried 1966, from memory). Onset and
// speed are those of the least squares of ln FWHM, outliers clipped.

// FocusDrift is a run of subs over which focus was lost.
type FocusDrift struct {
	Camera         names.Name
	Since, Until   time.Time // start of the last sub in focus and of the last one out of it
	Subs           int
	Filters        []names.Name // in order of first use
	BlurPerHour    stats.Value  // px/h by which the disc out of focus grows, as FWHM
	Widened        float64      // FWHM of the last sub over that in focus
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
	focusOutlier  = 3     // times the scatter, at which a residual is clipped
	filtersDiffer = 0.08  // of ln FWHM, by which filters differ in focus
	focusLeast    = 0.005 // scatter of ln FWHM, to which widths are measured at best
	refocusAt     = 1.10  // widening at which to focus again: 17 % of a star's peak
	refocused     = 0.5   // of the widening, gone from one sub to the next where focus was set again
	airmassPow    = 0.6
)

// width is one sub's width on the curve.
type width struct {
	e      *evidence
	hours  float64 // since the first
	ln     float64 // ln FWHM at the lowest airmass, along the narrow axis of trailed stars
	filter int
}

// focusDrifts finds the drifts of every camera's sessions. In: in time order.
func focusDrifts(night []*evidence) []FocusDrift {
	var out []FocusDrift
	for _, stretch := range focusStretches(night) {
		if d, ok := fitFocus(stretch); ok {
			out = append(out, d)
		}
	}
	return out
}

// focusStretches cuts each camera's subs where nothing was shot for long, where
// the focuser was moved, and where widths fell at once.
func focusStretches(night []*evidence) [][]width {
	var out [][]width
	last := map[names.Name]int{} // stretch of each camera
	filters := map[names.Name]int{}
	for _, e := range night {
		size := e.Field
		if size == nil || !(size.FWHM.V > 0) || e.Start.IsZero() || size.Defocused || size.FWHM.N < fewestShapes {
			continue
		}
		if _, ok := filters[e.Filter]; !ok {
			filters[e.Filter] = len(filters)
		}
		w := width{e: e, ln: math.Log(size.FWHM.V), filter: filters[e.Filter]}
		if x := e.Sky.Airmass; x.OK() && x.V >= 1 {
			w.ln -= airmassPow * math.Log(x.V)
		}
		if e.trailed().cause != "" {
			w.ln += 0.5 * math.Log(1-math.Min(e.trail, 0.9))
		}
		k, ok := last[e.Camera]
		if !ok || cutsFocus(out[k], w) {
			k = len(out)
			out, last[e.Camera] = append(out, nil), k
		}
		if len(out[k]) > 0 {
			w.hours = e.Start.Sub(out[k][0].e.Start).Hours()
		}
		out[k] = append(out[k], w)
	}
	return out
}

// cutsFocus tells whether a sub begins a new stretch.
func cutsFocus(before []width, w width) bool {
	p := before[len(before)-1]
	if w.e.Start.Sub(p.e.Start) > sessionGap || w.e.Target != p.e.Target {
		return true
	}
	if a, b := p.e.FocusPosition, w.e.FocusPosition; !math.IsNaN(a) && !math.IsNaN(b) {
		return a != b
	}
	// Without a position: back to half the widening or less, through the same filter.
	var all []float64
	for _, o := range before {
		if o.filter == w.filter {
			all = append(all, o.ln)
		}
	}
	if len(all) < focusLost {
		return false
	}
	best, last := stats.Quantile(all, 0.25), slices.Min(all[len(all)-3:])
	return last-best > math.Log(focusShows) && w.ln-best < (1-refocused)*(last-best)
}

// fitFocus finds the drift in one stretch.
func fitFocus(all []width) (FocusDrift, bool) {
	if len(all) < focusFewest {
		return FocusDrift{}, false
	}
	scatter := widthScatter(all)
	none, _ := residuals(all, 0, 0, scatter)
	onset, speed, least := bestFocus(all, scatter)
	last := all[len(all)-1]
	widened := math.Sqrt(1 + square(speed*(last.hours-all[onset].hours)))
	if len(all)-1-onset < focusLost || !(least < focusFits*none) || widened < focusShows {
		return FocusDrift{}, false
	}
	d := FocusDrift{Camera: last.e.Camera, Since: all[onset].e.Start, Until: last.e.Start, Subs: len(all) - 1 - onset, Widened: widened}
	for _, w := range all[onset:] {
		if !slices.Contains(d.Filters, w.e.Filter) {
			d.Filters = append(d.Filters, w.e.Filter)
		}
	}
	// Fitted to every second sub, twice: how sure the speed is.
	var half [2][]width
	for i, w := range all {
		half[i%2] = append(half[i%2], w)
	}
	_, s0, _ := bestFocus(half[0], scatter)
	_, s1, _ := bestFocus(half[1], scatter)
	err := math.Abs(s0-s1) / 2
	if !(speed > focusSurely*err) {
		return FocusDrift{}, false
	}
	_, base := residuals(all, all[onset].hours, speed, scatter)
	inFocus := math.Exp(base[all[onset].filter])
	d.BlurPerHour = stats.Known(speed*inFocus, err*inFocus, len(all))
	minutes := 60 * math.Sqrt(refocusAt*refocusAt-1) / speed
	d.RefocusMinutes = stats.Known(minutes, minutes*err/speed, len(all))
	d.RefocusDegrees = stats.Missing("the headers do not tell the air's temperature")
	if cooled := all[onset].e.AmbientTemp - last.e.AmbientTemp; !math.IsNaN(cooled) {
		perMinute := math.Abs(cooled) / (60 * (last.hours - all[onset].hours))
		d.RefocusDegrees = d.RefocusMinutes.Scaled(perMinute)
	}
	return d, true
}

// bestFocus looks for the onset, as the index of the last sub in focus, and the
// speed in widenings an hour that leave least.
func bestFocus(all []width, scatter float64) (onset int, speed, least float64) {
	least = math.Inf(1)
	span := all[len(all)-1].hours
	if !(span > 0) {
		return 0, 0, least
	}
	for i := range all[:len(all)-1] {
		left := span - all[i].hours
		for step := range 40 { // up to 4 times as wide at the end, 10 % a step
			s := 4 * math.Pow(1.1, -float64(step)) / left
			if r, _ := residuals(all, all[i].hours, s, scatter); r < least {
				onset, speed, least = i, s, r
			}
		}
	}
	return onset, speed, least
}

// residuals is the mean square residual of a drift, each counted to focusOutlier
// times the scatter at most, and ln b of each filter.
func residuals(all []width, since, speed, scatter float64) (float64, []float64) {
	var of [][]float64
	rest := make([]float64, len(all))
	for i, w := range all {
		rest[i] = w.ln - 0.5*math.Log1p(square(speed*math.Max(0, w.hours-since)))
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
		sum += square(math.Min(math.Abs(rest[i]-base[w.filter]), focusOutlier*scatter))
	}
	// Filters differ little: what one that was never in focus leaves open.
	for _, b := range base {
		if b != 0 {
			sum += square(scatter / filtersDiffer * (b - base[all[0].filter]))
		}
	}
	return sum / float64(len(all)), base
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
