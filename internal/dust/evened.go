package dust

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stats"
)

// evenOrder is that of the polynomial in each direction that the illumination is
// taken for: falloff by cos⁴ and a tube that cuts the corners need six.
const evenOrder = 6

// evened is a map over its own smooth illumination, so that 1 is as lit as the
// frame is there: a least-squares polynomial through the known cells of bare, the
// map without what is known to be no illumination, and without those that are off.
func evened(m, bare stats.Map) stats.Map {
	out := stats.Map{Width: m.Width, Height: m.Height, Step: m.Step, Values: make([]float64, len(m.Values))}
	columns, rows := chebyshev(m.Width), chebyshev(m.Height)
	var c []float64
	limit := math.Inf(1)
	for range 3 {
		c = fitEven(bare, columns, rows, c, limit)
		if c == nil {
			copy(out.Values, m.Values)
			return out
		}
		var off []float64
		for k := 0; k < len(m.Values); k += 7 {
			if v := m.Values[k] / even(c, columns[k%m.Width], rows[k/m.Width]); !math.IsNaN(v) {
				off = append(off, v)
			}
		}
		limit = 3 * stats.MADSigma(off)
	}
	for k, v := range m.Values {
		out.Values[k] = v / even(c, columns[k%m.Width], rows[k/m.Width])
	}
	return out
}

// chebyshev is the polynomials' values at the cells of an axis.
func chebyshev(n int) [][evenOrder + 1]float64 {
	t := make([][evenOrder + 1]float64, n)
	for i := range t {
		x := (2*float64(i)+1)/float64(n) - 1
		t[i][0], t[i][1] = 1, x
		for k := 2; k <= evenOrder; k++ {
			t[i][k] = 2*x*t[i][k-1] - t[i][k-2]
		}
	}
	return t
}

// even is the polynomial at a cell: products of up to evenOrder together.
func even(c []float64, x, y [evenOrder + 1]float64) float64 {
	z, n := 0.0, 0
	for a := 0; a <= evenOrder; a++ {
		for b := 0; a+b <= evenOrder; b++ {
			z += c[n] * x[a] * y[b]
			n++
		}
	}
	return z
}

// fitEven fits the polynomial to every third cell that is within limit of the one
// before; nil when too few are.
func fitEven(m stats.Map, columns, rows [][evenOrder + 1]float64, before []float64, limit float64) []float64 {
	const n = (evenOrder + 1) * (evenOrder + 2) / 2
	var sums [n][n]float64
	var right, row [n]float64
	used := 0
	for j := 0; j < m.Height; j += 3 {
		for i := 0; i < m.Width; i += 3 {
			v := m.At(i, j)
			if math.IsNaN(v) || before != nil && math.Abs(v/even(before, columns[i], rows[j])-1) > limit {
				continue
			}
			k := 0
			for a := 0; a <= evenOrder; a++ {
				for b := 0; a+b <= evenOrder; b++ {
					row[k] = columns[i][a] * rows[j][b]
					k++
				}
			}
			for a, p := range row {
				for b := a; b < n; b++ {
					sums[a][b] += p * row[b]
				}
				right[a] += p * v
			}
			used++
		}
	}
	if used < 4*n {
		return nil
	}
	sum := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			sum.SetSym(a, b, sums[a][b])
		}
	}
	var chol mat.Cholesky
	var c mat.VecDense
	if !chol.Factorize(sum) || chol.SolveVecTo(&c, mat.NewVecDense(n, right[:])) != nil {
		return nil
	}
	return c.RawVector().Data
}
