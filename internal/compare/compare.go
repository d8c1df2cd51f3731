// Package compare sets two nights or set-ups side by side: what of the light came
// through, how bright the sky was, how sharp the stars were, and what both make of equal
// time.
//
// Throughput is the ratio of light that stars give, by the zero points of the star
// catalogue at airmass 1: 10^(0.4 Δ); of two nights of one target and set-up that were not
// found in it, by the stars that both show, as far as both were held against one
// reference of the ledger; what the air took at the height of the target is in that. Stars shine at all wavelengths, so through a narrower filter
// they lose light that a line does not. Signal to noise in equal time is therefore told
// twice: for light like the stars', throughput over the root of the noise's ratio; and
// for a line that both filters pass alike, one over that root. Noise is the variance a
// second and square arcsecond, in e-.
package compare

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Side is one night or set-up.
type Side struct {
	Name   string
	Groups []Group
	Camera []Figure
}

// Group is the usable subs of one target through one filter.
type Group struct {
	Target, Filter names.Name
	Subs           int
	ZeroPoint      stats.Value // mag, of a clear sub; e- only
	Level          stats.Value // light of a clear sub over that of one reference
	Reference      string      // which one; "" when it is not known
	SkyMag         stats.Value // mag per square arcsec
	Sky            stats.Value // e-/s per square arcsec
	FWHM           stats.Value // arcsec
	Ellipticity    stats.Value
	Noise          stats.Value // e-² a second and square arcsec
}

// Figure is one of a camera's: gain, read noise, dark current.
type Figure struct {
	Camera  names.Name
	Setting string
	Metric  string
	Unit    string
	Value   stats.Value
}

// Line is one figure of both sides. Ratio is the second over the first; missing where a
// ratio says nothing.
type Line struct {
	Figure string
	Unit   string
	First  stats.Value
	Second stats.Value
	Ratio  stats.Value
}

// Pair is two groups side by side.
type Pair struct {
	First, Second Group
	Lines         []Line
	Throughput    stats.Value // of starlight, second over first
	SkyRatio      stats.Value // of the sky's light
	Quiet         stats.Value // root of the first's noise variance over the second's
	Continuum     stats.Value // signal to noise in equal time, for light like the stars'
	LineLight     stats.Value // the same for a line that both filters pass alike
}

// Result is two sides.
type Result struct {
	First, Second string
	Pairs         []Pair
	Camera        []Line
	Alone         []string // groups that have no other beside them
}

// Of sets two sides side by side. Groups pair by target and filter; what is left of one
// target pairs when each side has one filter of it, as when a filter was changed.
func Of(a, b Side) Result {
	r := Result{First: a.Name, Second: b.Name}
	left := append([]Group(nil), b.Groups...)
	var alone []Group
	take := func(is func(Group) bool) (Group, bool) {
		for i, g := range left {
			if is(g) {
				left = append(left[:i], left[i+1:]...)
				return g, true
			}
		}
		return Group{}, false
	}
	for _, g := range a.Groups {
		if o, ok := take(func(o Group) bool { return o.Target.Is(g.Target) && o.Filter.Is(g.Filter) }); ok {
			r.Pairs = append(r.Pairs, pair(g, o))
		} else {
			alone = append(alone, g)
		}
	}
	for _, g := range alone {
		if count(alone, g.Target) == 1 && count(left, g.Target) == 1 {
			o, _ := take(func(o Group) bool { return o.Target.Is(g.Target) })
			r.Pairs = append(r.Pairs, pair(g, o))
			continue
		}
		r.Alone = append(r.Alone, a.Name+": "+string(g.Target)+" "+string(g.Filter))
	}
	for _, g := range left {
		r.Alone = append(r.Alone, b.Name+": "+string(g.Target)+" "+string(g.Filter))
	}
	r.Camera = cameras(a.Camera, b.Camera)
	return r
}

func count(list []Group, target names.Name) (n int) {
	for _, g := range list {
		if g.Target.Is(target) {
			n++
		}
	}
	return n
}

func pair(a, b Group) Pair {
	p := Pair{First: a, Second: b, Throughput: throughput(a.ZeroPoint, b.ZeroPoint), SkyRatio: ratio(a.Sky, b.Sky)}
	if !p.Throughput.OK() && a.Reference != "" && a.Reference == b.Reference && a.Filter.Is(b.Filter) && a.Level.OK() && b.Level.OK() {
		p.Throughput = ratio(a.Level, b.Level) // star by star of the same field
	}
	noise := ratio(a.Noise, b.Noise)
	p.Quiet = power(noise, -0.5)
	p.LineLight, p.Continuum = p.Quiet, times(p.Throughput, p.Quiet)
	if a.Filter.Is(b.Filter) && p.Quiet.OK() {
		p.LineLight = stats.Missing(OneFilter) // air and optics dim both alike
	}
	none := stats.Missing(OfMagnitudes)
	p.Lines = []Line{
		{"zero point", "mag", a.ZeroPoint, b.ZeroPoint, none},
		{"sky", "mag/arcsec²", a.SkyMag, b.SkyMag, none},
		{"sky", "e-/s/arcsec²", a.Sky, b.Sky, p.SkyRatio},
		{"FWHM", "arcsec", a.FWHM, b.FWHM, ratio(a.FWHM, b.FWHM)},
		{"ellipticity", "", a.Ellipticity, b.Ellipticity, ratio(a.Ellipticity, b.Ellipticity)},
		{"noise variance", "e-²/s/arcsec²", a.Noise, b.Noise, noise},
	}
	return p
}

// cameras pairs figures of equal camera, setting and metric, the first of several: darks of
// two exposures tell of one dark current.
func cameras(a, b []Figure) (list []Line) {
	for i, f := range a {
		if slices.ContainsFunc(a[:i], func(o Figure) bool { return f.Camera.Is(o.Camera) && f.Setting == o.Setting && f.Metric == o.Metric }) {
			continue
		}
		for _, o := range b {
			if f.Camera.Is(o.Camera) && f.Setting == o.Setting && f.Metric == o.Metric && f.Value.OK() && o.Value.OK() {
				list = append(list, Line{string(f.Camera) + " " + f.Setting + " " + f.Metric, f.Unit, f.Value, o.Value, ratio(f.Value, o.Value)})
				break
			}
		}
	}
	return list
}

func throughput(a, b stats.Value) stats.Value {
	if why := lacking(a, b); why.Code != "" {
		return stats.Because(why)
	}
	t := math.Pow(10, 0.4*(b.V-a.V))
	return stats.Known(t, t/1.0857*math.Hypot(a.Err, b.Err), min(a.N, b.N))
}

// ratio is the second over the first, with the errors of both.
func ratio(a, b stats.Value) stats.Value {
	if why := lacking(a, b); why.Code != "" {
		return stats.Because(why)
	}
	if !(a.V > 0) {
		return stats.Missing(FirstNothing)
	}
	q := b.V / a.V
	return stats.Known(q, q*math.Hypot(a.Err/a.V, b.Err/b.V), min(a.N, b.N))
}

func power(v stats.Value, p float64) stats.Value {
	if !v.OK() {
		return v
	}
	x := math.Pow(v.V, p)
	return stats.Known(x, math.Abs(p)*x*v.Err/v.V, v.N)
}

func times(a, b stats.Value) stats.Value {
	if why := lacking(a, b); why.Code != "" {
		return stats.Because(why)
	}
	x := a.V * b.V
	return stats.Known(x, x*math.Hypot(a.Err/a.V, b.Err/b.V), min(a.N, b.N))
}

// lacking is why the first of the figures that are missing is; no code where all are there.
func lacking(values ...stats.Value) fact.Fact {
	for _, v := range values {
		if !v.OK() {
			return v.Reason()
		}
	}
	return fact.Fact{}
}
