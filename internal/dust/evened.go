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
			line := alongRow(c, &rows[k/m.Width])
			if v := m.Values[k] / line.at(&columns[k%m.Width]); !math.IsNaN(v) {
				off = append(off, v)
			}
		}
		limit = 3 * stats.MADSigma(off)
	}
	for j := range m.Height {
		line := alongRow(c, &rows[j])
		for i := range m.Width {
			out.Values[j*m.Width+i] = m.At(i, j) / line.at(&columns[i])
		}
	}
	return out
}

// chebyshev is the polynomials' values at the cells of an axis.
func chebyshev(n int) []chebyshevs {
	t := make([]chebyshevs, n)
	for i := range t {
		x := (2*float64(i)+1)/float64(n) - 1
		t[i][0], t[i][1] = 1, x
		for k := 2; k <= evenOrder; k++ {
			t[i][k] = 2*x*t[i][k-1] - t[i][k-2]
		}
	}
	return t
}

// chebyshevs are the values at a place of the polynomials of all orders, or what each
// is taken times.
type chebyshevs [evenOrder + 1]float64

// alongRow is what the illumination is along a row: products of up to evenOrder
// together, those of the row's own place taken up.
func alongRow(c []float64, row *chebyshevs) (line chebyshevs) {
	n := 0
	for a := range line {
		for b := 0; a+b <= evenOrder; b++ {
			line[a] += c[n] * row[b]
			n++
		}
	}
	return line
}

func (t *chebyshevs) at(place *chebyshevs) (z float64) {
	for a, v := range place {
		z += t[a] * v
	}
	return z
}

const evenTerms = (evenOrder + 1) * (evenOrder + 2) / 2

// fitEven fits the polynomial to every third cell that is within limit of the one
// before; nil when too few are.
func fitEven(m stats.Map, columns, rows []chebyshevs, before []float64, limit float64) []float64 {
	var n normalEquations
	used := 0
	for j := 0; j < m.Height; j += 3 {
		// A row's place is the same in all of its sums.
		var across [evenOrder + 1]chebyshevs
		var light, was chebyshevs
		if before != nil {
			was = alongRow(before, &rows[j])
		}
		for i := 0; i < m.Width; i += 3 {
			v, x := m.At(i, j), &columns[i]
			if math.IsNaN(v) || before != nil && math.Abs(v/was.at(x)-1) > limit {
				continue
			}
			for a, p := range x {
				for b := a; b <= evenOrder; b++ {
					across[a][b] += p * x[b]
				}
				light[a] += p * v
			}
			used++
		}
		n.addRow(&rows[j], &across, &light)
	}
	if used < 4*evenTerms {
		return nil
	}
	return n.solve()
}

// normalEquations are those of the fit of the polynomial by least squares.
type normalEquations struct {
	sums  [evenTerms][evenTerms]float64 // of products of two terms; the upper half
	right [evenTerms]float64            // of terms times what is fitted
}

// addRow adds a row of cells at one place along y, with its sums along x.
func (n *normalEquations) addRow(row *chebyshevs, across *[evenOrder + 1]chebyshevs, light *chebyshevs) {
	k := 0
	for a := range row {
		for b := 0; a+b <= evenOrder; b++ {
			n.right[k] += light[a] * row[b]
			l := 0
			for c := range row {
				for d := 0; c+d <= evenOrder; d++ {
					if l >= k {
						n.sums[k][l] += across[a][c] * row[b] * row[d]
					}
					l++
				}
			}
			k++
		}
	}
}

// solve gives the coefficients; nil where the cells do not tell them.
func (n *normalEquations) solve() []float64 {
	sum := mat.NewSymDense(evenTerms, nil)
	for a := range evenTerms {
		for b := a; b < evenTerms; b++ {
			sum.SetSym(a, b, n.sums[a][b])
		}
	}
	var chol mat.Cholesky
	var c mat.VecDense
	if !chol.Factorize(sum) || chol.SolveVecTo(&c, mat.NewVecDense(evenTerms, n.right[:])) != nil {
		return nil
	}
	return c.RawVector().Data
}
