package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Extinction is the trend of a group's transparency with airmass.
type Extinction struct {
	K        stats.Value // mag per airmass; N = clear subs behind it
	From, To float64     // airmass of the clear subs, lowest and highest; NaN when none were told apart
}

// Limits of the fit.
const (
	// leastRange is the airmass that must be spanned: over less, 0.02 mag of
	// haze that comes or goes pass for a third of clean air's extinction.
	leastRange = 0.3
	// leastClear is the fewest clear subs, and ends those at either end of the
	// range that alone do not make it wider.
	leastClear, ends = 8, 2
	// muchScatter in mag of the subs taken for clear is no clear sky.
	muchScatter = 0.1
	// steepest is more than clean air takes in any broad band above the
	// atmosphere's cut-off (0.1 to 0.5 mag, from memory).
	steepest = 1.0
	// leastSure is the uncertainty beyond which the figure says nothing.
	leastSure = 0.1
)

// FitExtinction fits loss = k (X - X0) to the light that subs of one filter and
// night lost, in order of time, ratio being their transparency to any common reference and
// airmass that of each (NaN: unknown).
//
// Model: m = m0 + k X, the first-order extinction of photometry (Hardie 1962, in
// Astronomical Techniques; from memory), in air that stays the same over the
// night; cloud comes on top and only ever dims. So the clear subs lie on the upper edge of the
// transparency, within their noise, and clouded ones below. The edge is looked
// for by the slope whose densest third of the residuals is narrowest (as in the
// least median of squares, Rousseeuw 1984, JASA 79, 871, but with a third in
// place of half, which holds until two thirds of the subs are clouded); a line is
// then fitted to those within three standard deviations. There is no answer when
// subs lie clearly above the line: then it was no edge.
//
// Haze that grows or clears while the target sinks or rises cannot be told from
// extinction and is part of k.
func FitExtinction(ratio []stats.Value, airmass []float64) Extinction {
	none := Extinction{From: math.NaN(), To: math.NaN()}
	var x, loss, sigma []float64
	for i, r := range ratio {
		if r.OK() && r.V > 0 && r.Err < 0.2*r.V && !math.IsNaN(airmass[i]) {
			x = append(x, airmass[i])
			loss = append(loss, -2.5*math.Log10(r.V))
			sigma = append(sigma, math.Hypot(2.5/math.Ln10*r.Err/r.V, stars.Systematic))
		}
	}
	if why := carries(x, stars.FewMeasured, stars.NarrowMeasured); why.Code != "" {
		none.K = stats.Because(why)
		return none
	}
	k, m, sd := clearEdge(x, loss)
	if sd > muchScatter {
		none.K = stats.Missing(stars.TooCloudy)
		return none
	}
	line := stats.Line{A: m, B: k}
	var cx, cy, cs []float64
	for range 5 {
		cx, cy, cs = cx[:0], cy[:0], cs[:0]
		above := 0
		for i := range x {
			switch rest, limit := loss[i]-line.At(x[i]), 3*math.Max(sd, sigma[i]); {
			case rest < -limit:
				above++
			case rest <= limit:
				cx, cy, cs = append(cx, x[i]), append(cy, loss[i]), append(cs, sigma[i])
			}
		}
		if why := carries(cx, stars.FewClear, stars.NarrowClear); why.Code != "" {
			none.K = stats.Because(why)
			return none
		}
		if above > 1 && 20*above > len(cx) {
			none.K = stats.Missing(stars.ChangingCloud, fact.Count("subs", above))
			return none
		}
		var err error
		if line, err = stats.FitLine(cx, cy, cs); err != nil {
			none.K = stats.Missing(stars.OneAirmass)
			return none
		}
		sd = line.RMS
	}
	line.ErrB *= togetherness(line, cx, cy, cs)
	return Extinction{K: extinctionOf(line, len(cx)), From: slices.Min(cx), To: slices.Max(cx)}
}

// togetherness is by what factor errors are larger than those of points free of each other,
// where what a line leaves goes together from one sub to the next, as where haze or dew comes
// or goes: of n points with a correlation r they count as n (1 - r)/(1 + r) (Bartlett 1946,
// J. R. Stat. Soc. Suppl. 8, 27, from memory); r comes out low by about (1 + 3r)/n. What
// is less than the points' own errors, which are free of each other, tells of nothing else.
func togetherness(line stats.Line, x, y, sigma []float64) float64 {
	var own, next, before, told float64
	for i := range x {
		rest := y[i] - line.At(x[i])
		own, next, before = own+rest*rest, next+rest*before, rest
		told += sigma[i] * sigma[i]
	}
	n := float64(len(x))
	r := math.Min(0.95, (next/math.Max(own, told)+1/n)/(1-3/n))
	if !(r > 0) {
		return 1
	}
	return math.Sqrt((1 + r) / (1 - r))
}

// extinctionOf is what the slope of a line through n subs tells of it, mag an airmass, as far
// as it can be one.
func extinctionOf(line stats.Line, n int) stats.Value {
	switch {
	case line.B < -3*line.ErrB:
		return stats.Missing(stars.LightGrew, fact.Number("mag_per_airmass", -line.B))
	case line.B > steepest:
		return stats.Missing(stars.TooSteep, fact.Number("mag_per_airmass", line.B))
	case line.ErrB > leastSure:
		return stats.Missing(stars.TrendUnsure, fact.Number("mag_per_airmass", line.ErrB))
	}
	return stats.Known(line.B, line.ErrB, n)
}

// carries tells why airmasses do not carry a trend: too few subs, or too narrow a range;
// no code when they do.
func carries(x []float64, few, narrow fact.Code) fact.Fact {
	if len(x) < leastClear {
		return fact.Of(few, fact.Count("subs", len(x)), fact.Count("needed", leastClear))
	}
	x = slices.Clone(x)
	slices.Sort(x)
	if span := x[len(x)-1-ends] - x[ends]; span < leastRange {
		return fact.Of(narrow, fact.Count("left_out", 2*ends), fact.Number("span", span), fact.Number("needed", leastRange))
	}
	return fact.Fact{}
}

// clearEdge is the line loss = m + k x about which the densest third of the
// points lies closest, and the standard deviation of normal points around it.
func clearEdge(x, loss []float64) (k, m, sd float64) {
	third := len(x)/3 + 2
	rest := make([]float64, len(x))
	narrowest := math.Inf(1)
	for step := -50; step <= 200; step++ { // -0.5 to 2 mag per airmass
		slope := float64(step) / 100
		for i := range x {
			rest[i] = loss[i] - slope*x[i]
		}
		slices.Sort(rest)
		for i := 0; i+third <= len(rest); i++ {
			if w := rest[i+third-1] - rest[i]; w < narrowest {
				narrowest, k, m = w, slope, (rest[i+third-1]+rest[i])/2
			}
		}
	}
	// A third of a normal distribution lies within 0.4307 sd of its middle. The
	// narrowest third of few points is narrower still: the fit that follows widens
	// it to what it finds.
	return k, m, narrowest / 2 / 0.4307
}
