package worth

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// fitted is by how much y follows x over all subs, each of its own level, with its error,
// and what is left of y.
func fitted(x, y [][]float64, weight []float64) (f trial, rest [][]float64) {
	n := len(weight)
	level := orthonormal([][]float64{slices.Clone(weight)})
	var above, below []float64
	ofCell, ofCells := make([]float64, n), make([]float64, n)
	for k := range y {
		a, b := weighted(x[k], weight, level), weighted(y[k], weight, level)
		above, below = append(above, floats.Dot(a, b)), append(below, floats.Dot(a, a))
		for i := range a {
			ofCell[i], ofCells[i] = ofCell[i]+a[i]*b[i], ofCells[i]+a[i]*a[i]
		}
	}
	ratio, bySub := jackknife(above, below)
	_, byCell := jackknife(ofCell, ofCells)
	square := 0.0
	for k := range y {
		b := weighted(y[k], weight, level)
		floats.AddScaled(b, -ratio, weighted(x[k], weight, level))
		square += floats.Dot(b, b)
		rest = append(rest, floats.DivTo(b, b, weight))
	}
	byScatter := math.Sqrt(square / float64(len(y)*n) / floats.Sum(below))
	return trial{height: ratio, chance: max(bySub, byCell, byScatter), explained: ratio * ratio / (byScatter * byScatter)}, rest
}

// weighted values less what a basis spans.
func weighted(v, weight []float64, basis [][]float64) []float64 {
	w := floats.MulTo(make([]float64, len(v)), v, weight)
	free(w, basis)
	return w
}

// free takes off what a basis spans.
func free(v []float64, basis [][]float64) {
	for _, b := range basis {
		floats.AddScaled(v, -floats.Dot(v, b), b)
	}
}

// orthonormal vectors that span what the given ones do.
func orthonormal(all [][]float64) (basis [][]float64) {
	for _, v := range all {
		size := floats.Norm(v, 2)
		for _, b := range basis {
			floats.AddScaled(v, -floats.Dot(v, b), b)
		}
		if rest := floats.Norm(v, 2); rest > 1e-6*size {
			floats.Scale(1/rest, v)
			basis = append(basis, v)
		}
	}
	return basis
}

// jackknife is the ratio of two sums with its error from leaving out part by part.
func jackknife(above, below []float64) (ratio, err float64) {
	var a, b float64
	for k := range above {
		a, b = a+above[k], b+below[k]
	}
	ratio = a / b
	for k := range above {
		d := (a-above[k])/(b-below[k]) - ratio
		err += d * d
	}
	n := float64(len(above))
	return ratio, math.Sqrt(err * (n - 1) / n)
}
