package subs

import (
	"math"
	"sort"

	"fitsqa/internal/fact"
)

// Within a cause, the night's course tells what is behind it. These facts stand
// beside the finding's others; they change no verdict.

// Course of the FWHM around a soft sub.
const (
	softWindow  = 5    // subs of the group on either side
	softTrend   = 0.7  // rank correlation from which a course is steady
	softSpell   = 0.4  // of the excess that a neighbour shares, or the sub is alone
	softChange  = 1.0  // °C of air temperature that move a focus
	sharpEnough = 1.12 // times the baseline, of the subs before a step
	stepSubs    = 3    // subs before a step that are looked at
)

// softKind tells focus from seeing. Seeing scatters from sub to sub; a focus
// that drifts or jumps stays off until somebody or something moves it.
func (e *evidence) softKind() []fact.Fact {
	if e.Field.Defocused {
		return []fact.Fact{fact.Of(Defocused)}
	}
	if e.byHFD && e.Field.FWHM.OK() {
		return []fact.Fact{fact.Of(SharpCores, fact.Number("fwhm_px", e.Field.FWHM.V))}
	}
	if e.low() {
		return []fact.Fact{fact.Of(LowInSky, fact.Number("airmass", e.Sky.Airmass.V))}
	}
	near := e.mates[max(0, e.rank-softWindow):min(len(e.mates), e.rank+softWindow+1)]
	var times, sizes, temps []float64
	for _, o := range near {
		if math.IsNaN(o.fwhm) || o.Start.IsZero() {
			continue
		}
		times = append(times, o.Start.Sub(e.Start).Seconds())
		sizes = append(sizes, o.fwhm)
		temps = append(temps, o.AmbientTemp)
	}
	n := len(sizes)
	switch {
	case n < 4:
		return nil
	case e.stepBefore() != "":
		return []fact.Fact{fact.Of(e.stepBefore())}
	case e.softAlone():
		return []fact.Fact{fact.Of(NeighboursSharp)}
	case n < 6 || math.Abs(rankCorrelation(times, sizes)) < softTrend:
		return []fact.Fact{fact.Of(NeighboursSoft)}
	}
	if lo, hi := extremes(temps); hi-lo >= softChange && math.Abs(rankCorrelation(temps, sizes)) >= softTrend {
		return []fact.Fact{fact.Of(WithTemperature, fact.Number("range_c", hi-lo))}
	}
	if !e.Sky.Airmass.OK() {
		return []fact.Fact{fact.Of(SteadilyUnplaced)}
	}
	return []fact.Fact{fact.Of(Steadily)}
}

// softAlone tells that the subs right before and after are both sharp.
func (e *evidence) softAlone() bool {
	return !e.softNext(-1) && !e.softNext(1)
}

// softNext tells whether the next sub of known width, in one direction of time, shares in the
// excess.
func (e *evidence) softNext(step int) bool {
	for i := e.rank + step; i >= 0 && i < len(e.mates); i += step {
		if o := e.mates[i]; !math.IsNaN(o.fwhm) {
			return o.fwhm-1 >= softSpell*(e.fwhm-1)
		}
	}
	return false
}

// stepBefore tells what interrupted the group's subs before this one, if those
// before it were sharp and all from there on are as soft as this one.
func (e *evidence) stepBefore() fact.Code {
	from := e.rank
	for from > 0 && interruption(e.mates[from-1], e.mates[from]) == "" {
		from--
	}
	if from == 0 {
		return ""
	}
	for _, o := range e.mates[max(0, from-stepSubs):from] {
		if o.fwhm > sharpEnough {
			return ""
		}
	}
	for _, o := range e.mates[from : e.rank+1] {
		if o.fwhm-1 < (e.fwhm-1)/2 {
			return ""
		}
	}
	return interruption(e.mates[from-1], e.mates[from])
}

// interruption between two subs of a group that follow each other in it.
func interruption(a, b *evidence) fact.Code {
	switch {
	case a.PierSide != b.PierSide || a.Align.Flipped != b.Align.Flipped:
		return SinceFlip
	case len(a.night) > 0 && b.place > a.place+1:
		for _, o := range a.night[a.place+1 : b.place] {
			if o.Filter != a.Filter {
				return SinceFilter
			}
		}
	}
	return ""
}

// rankCorrelation is Spearman's: Pearson's of the ranks (Spearman 1904). NaN
// where a figure is unknown or all are equal.
func rankCorrelation(a, b []float64) float64 {
	ra, rb := ranks(a), ranks(b)
	mean := float64(len(a)-1) / 2
	var ab, aa, bb float64
	for i := range ra {
		ab += (ra[i] - mean) * (rb[i] - mean)
		aa += (ra[i] - mean) * (ra[i] - mean)
		bb += (rb[i] - mean) * (rb[i] - mean)
	}
	return ab / math.Sqrt(aa*bb)
}

// ranks from 0, ties sharing their mean.
func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return x[order[i]] < x[order[j]] })
	r := make([]float64, len(x))
	for i := 0; i < len(x); {
		j := i + 1
		for j < len(x) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			r[k] = float64(i+j-1) / 2
		}
		i = j
	}
	return r
}

func extremes(x []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	return lo, hi
}
