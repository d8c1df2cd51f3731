package subs

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// lawFewest is how many times the focuser has to be moved beyond the unknowns.
const lawFewest = 2

// lawDegrees is the least range of temperature that gives a slope, °C.
const lawDegrees = 1.0

// focusLaws are what the positions of the focuser tell where it was moved: its
// travel with the temperature of the air and from filter to filter, by least
// squares over position = a + b × temperature + offset of the filter.
func focusLaws(night []*evidence) []FocusLaw {
	var cameras []names.Name
	moves := map[names.Name][]*evidence{}
	for _, e := range night {
		list := moves[e.Camera]
		if math.IsNaN(e.FocusPosition) || e.Field == nil || len(list) > 0 && list[len(list)-1].FocusPosition == e.FocusPosition {
			continue
		}
		if list == nil {
			cameras = append(cameras, e.Camera)
		}
		moves[e.Camera] = append(list, e)
	}
	var out []FocusLaw
	for _, c := range cameras {
		if law, ok := fitLaw(moves[c]); ok {
			law.Camera = c
			out = append(out, law)
		}
	}
	return out
}

func fitLaw(moves []*evidence) (FocusLaw, bool) {
	var filters []names.Name
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, e := range moves {
		lo, hi = math.Min(lo, e.AmbientTemp), math.Max(hi, e.AmbientTemp)
		if !slices.Contains(filters, e.Filter) {
			filters = append(filters, e.Filter)
		}
	}
	warm := hi-lo >= lawDegrees // false where a temperature is unknown
	unknowns := len(filters)
	if warm {
		unknowns++
	}
	if len(moves) < unknowns+lawFewest {
		return FocusLaw{}, false
	}
	a, b := mat.NewDense(len(moves), unknowns, nil), mat.NewVecDense(len(moves), nil)
	for i, e := range moves {
		a.Set(i, 0, 1)
		if k := slices.Index(filters, e.Filter); k > 0 {
			a.Set(i, k, 1)
		}
		if warm {
			a.Set(i, len(filters), e.AmbientTemp-lo)
		}
		b.SetVec(i, e.FocusPosition)
	}
	x, errs, ok := leastSquares(a, b)
	if !ok {
		return FocusLaw{}, false
	}
	law := FocusLaw{Runs: len(moves), StepsPerDegree: stats.Missing(AirUnknown)}
	if warm {
		law.StepsPerDegree = stats.Known(x[len(filters)], errs[len(filters)], len(moves))
	}
	for k := 1; k < len(filters); k++ {
		law.Offsets = append(law.Offsets, FilterOffset{filters[k], stats.Known(x[k], errs[k], len(moves))})
	}
	return law, true
}

// leastSquares solves a x = b and gives the standard errors by the residuals, or by the
// rounding of b to whole steps where that is more: a table of positions is met exactly. False where the equations do not tell all unknowns apart.
func leastSquares(a *mat.Dense, b *mat.VecDense) (x, errs []float64, ok bool) {
	rows, cols := a.Dims()
	var normal mat.Dense
	normal.Mul(a.T(), a)
	var inverse mat.Dense
	if inverse.Inverse(&normal) != nil {
		return nil, nil, false
	}
	var right, solved, rest mat.VecDense
	right.MulVec(a.T(), b)
	solved.MulVec(&inverse, &right)
	rest.MulVec(a, &solved)
	rest.SubVec(b, &rest)
	variance := math.Max(1./12, mat.Dot(&rest, &rest)/float64(rows-cols))
	for k := range cols {
		x, errs = append(x, solved.AtVec(k)), append(errs, math.Sqrt(variance*inverse.At(k, k)))
	}
	return x, errs, true
}
