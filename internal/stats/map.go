package stats

import "math"

// Map is a coarse map of a frame: cell i,j stands for Step by Step pixels from
// i Step, j Step on; row 0 at the bottom.
type Map struct {
	Width, Height, Step int
	Values              []float64 // NaN where nothing could be measured
}

// At is the value of cell i, j.
func (m Map) At(i, j int) float64 { return m.Values[j*m.Width+i] }

// Plane is z = a + b u + c v over the cells, u and v running from -1/2 to 1/2
// across the frame.
type Plane struct{ A, B, C float64 }

// FitPlane fits a plane by least squares, cells more than 3 robust sigma off
// dropped in three rounds: a glow in one corner is no gradient.
func (m Map) FitPlane() Plane {
	use := make([]bool, len(m.Values))
	for i, v := range m.Values {
		use[i] = !math.IsNaN(v)
	}
	var p Plane
	for range 4 {
		var s PlaneSums
		for j := range m.Height {
			for i := range m.Width {
				if !use[j*m.Width+i] {
					continue
				}
				s.Add(m.u(i), m.v(j), m.At(i, j))
			}
		}
		p = s.Solve()
		var rest []float64
		for j := range m.Height {
			for i := range m.Width {
				if !math.IsNaN(m.At(i, j)) {
					rest = append(rest, m.At(i, j)-p.At(m.u(i), m.v(j)))
				}
			}
		}
		centre, sigma := Median(rest), MADSigma(rest)
		for j := range m.Height {
			for i := range m.Width {
				d := m.At(i, j) - p.At(m.u(i), m.v(j)) - centre
				use[j*m.Width+i] = math.Abs(d) <= 3*sigma+1e-12
			}
		}
	}
	return p
}

func (m Map) u(i int) float64 { return (float64(i)+0.5)/float64(m.Width) - 0.5 }
func (m Map) v(j int) float64 { return (float64(j)+0.5)/float64(m.Height) - 0.5 }

// At is the plane at a place.
func (p Plane) At(u, v float64) float64 { return p.A + p.B*u + p.C*v }

// Reach is the plane's difference between its highest and lowest corner.
func (p Plane) Reach() float64 { return math.Abs(p.B) + math.Abs(p.C) }

// PlaneSums are the normal equations of a plane, the right side last.
type PlaneSums [3][4]float64

// Add takes in a point.
func (s *PlaneSums) Add(u, v, z float64) {
	row := [3]float64{1, u, v}
	for r := range row {
		for c := range row {
			s[r][c] += row[r] * row[c]
		}
		s[r][3] += row[r] * z
	}
}

// Solve solves the normal equations by elimination; directions that the
// cells do not fix (a single row) come out flat.
func (s PlaneSums) Solve() Plane {
	for k := range 3 {
		if math.Abs(s[k][k]) < 1e-9 {
			s[k] = [4]float64{}
			s[k][k] = 1
			for r := range 3 {
				if r != k {
					s[r][k] = 0
				}
			}
			continue
		}
		for r := range 3 {
			if r == k {
				continue
			}
			f := s[r][k] / s[k][k]
			for c := k; c < 4; c++ {
				s[r][c] -= f * s[k][c]
			}
		}
	}
	return Plane{s[0][3] / s[0][0], s[1][3] / s[1][1], s[2][3] / s[2][2]}
}

// Relative is where the middle of a cell lies in a map's planes: -1/2 to 1/2.
func (m Map) Relative(i, j int) (u, v float64) { return m.u(i), m.v(j) }

// Inside tells whether there is such a cell.
func (m Map) Inside(i, j int) bool { return i >= 0 && j >= 0 && i < m.Width && j < m.Height }

// Centre is the middle of a cell, px.
func (m Map) Centre(i, j int) (x, y float64) {
	half := float64(m.Step-1) / 2
	return float64(i*m.Step) + half, float64(j*m.Step) + half
}

// Cell is the inverse of Centre: the place in cells, 0,0 in the middle of the
// first.
func (m Map) Cell(x, y float64) (u, v float64) {
	half := float64(m.Step-1) / 2
	return (x - half) / float64(m.Step), (y - half) / float64(m.Step)
}

// Sample is the map at a place in px, between the middles of cells; NaN
// outside and beside NaN.
func (m Map) Sample(x, y float64) float64 {
	u, v := m.Cell(x, y)
	i, j := int(math.Floor(u)), int(math.Floor(v))
	if i < 0 || j < 0 || i+1 >= m.Width || j+1 >= m.Height {
		return math.NaN()
	}
	s, t := u-float64(i), v-float64(j)
	return (1-t)*((1-s)*m.At(i, j)+s*m.At(i+1, j)) + t*((1-s)*m.At(i, j+1)+s*m.At(i+1, j+1))
}

// Near calls do for the known cells at most so many away from cell i, j along
// each axis, with their distances and values.
func (m Map) Near(i, j, reach int, do func(di, dj int, v float64)) {
	for dj := -reach; dj <= reach; dj++ {
		for di := -reach; di <= reach; di++ {
			if m.Inside(i+di, j+dj) && !math.IsNaN(m.At(i+di, j+dj)) {
				do(di, dj, m.At(i+di, j+dj))
			}
		}
	}
}
