package dust

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// timesPower is where among all powers, by degree and then by that of v, the product
// of two terms is.
var timesPower = func() (at [6][6]int) {
	of := [6][2]int{{0, 0}, {1, 0}, {0, 1}, {2, 0}, {1, 1}, {0, 2}}
	for a, p := range of {
		for b, q := range of {
			v := p[1] + q[1]
			degree := p[0] + q[0] + v
			at[a][b] = degree*(degree+1)/2 + v
		}
	}
	return at
}()

// addPowers adds a place's products of two terms.
func addPowers(sum *[15]float64, u, v float64) {
	uu, uv, vv := u*u, u*v, v*v
	sum[0]++
	sum[1] += u
	sum[2] += v
	sum[3] += uu
	sum[4] += uv
	sum[5] += vv
	sum[6] += uu * u
	sum[7] += uu * v
	sum[8] += vv * u
	sum[9] += vv * v
	sum[10] += uu * uu
	sum[11] += uu * uv
	sum[12] += uu * vv
	sum[13] += vv * uv
	sum[14] += vv * vv
}

// addTerms adds a place's terms times its value.
func addTerms(sum *[7]float64, u, v, value float64) {
	sum[0] += value
	sum[1] += u * value
	sum[2] += v * value
	sum[3] += u * u * value
	sum[4] += u * v * value
	sum[5] += v * v * value
}

// fit is the least-squares surface of second order through values, and, when
// shape is given, the amplitude of it as a seventh coefficient. NaN values are
// left out; too few of the others, or too few around the shadow, are no fit.
func (w *window) fit(values, shape []float64) ([]float64, bool) {
	n := 6
	if shape != nil {
		n = 7
	}
	var powers [15]float64 // sums of u^p v^q up to the fourth degree
	var right, cross [7]float64
	used := 0
	for k, z := range values {
		if math.IsNaN(z) {
			continue
		}
		used++
		u, v := w.at(k)
		addPowers(&powers, u, v)
		addTerms(&right, u, v, z)
		if shape != nil {
			addTerms(&cross, u, v, shape[k])
			right[6], cross[6] = right[6]+shape[k]*z, cross[6]+shape[k]*shape[k]
		}
	}
	if used < 3*n {
		return nil, false
	}
	sum := mat.NewSymDense(n, nil)
	for a := range 6 {
		for b := a; b < 6; b++ {
			sum.SetSym(a, b, powers[timesPower[a][b]])
		}
	}
	if shape != nil {
		for a, c := range cross {
			sum.SetSym(a, 6, c)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(sum) || chol.Cond() > 1e12 {
		return nil, false
	}
	var c mat.VecDense
	if err := chol.SolveVecTo(&c, mat.NewVecDense(n, right[:n])); err != nil {
		return nil, false
	}
	return c.RawVector().Data, true
}

// at is where cell k lies, in units of the reach: the surface that the surroundings are
// fitted with has the terms 1, u, v, u², uv, v².
func (w *window) at(k int) (u, v float64) {
	return float64(w.cells[k][0]) / w.reach, float64(w.cells[k][1]) / w.reach
}

func (w *window) surface(c []float64, k int) float64 {
	u, v := w.at(k)
	return c[0] + c[1]*u + c[2]*v + c[3]*(u*u) + c[4]*(u*v) + c[5]*(v*v)
}
