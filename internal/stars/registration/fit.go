package registration

import "math"

// tied are points of two fields that are taken for the same stars, and the weight of
// each pair.
type tied struct {
	a, b   []point
	weight []float64
}

func (t *tied) add(a, b point, weight float64) {
	t.a, t.b, t.weight = append(t.a, a), append(t.b, b), append(t.weight, weight)
}

// fitted is the map that takes points a to points b best in the sense of least squares,
// and what it leaves unknown.
type fitted struct {
	Transform
	at         point   // the weighted mean of a, which is tied best
	weight     float64 // sum of the weights
	xx, xy, yy float64 // variances and covariance of a coordinate's slopes along x and y, of pairs that scatter by 1 at weight 1
	turn       float64 // variance of the angle, likewise
	scatter    float64 // variance of each coordinate at weight 1, by what the pairs differ
}

// errAt is the standard error of each coordinate to which a point of a is mapped
// (Bevington and Robinson 2003, Data Reduction and Error Analysis, 7.2, from memory: what is
// left of the pairs, over the degrees of freedom, times the inverse of the normal matrix).
func (f *fitted) errAt(x, y float64) float64 {
	x, y = x-f.at.x, y-f.at.y
	return math.Sqrt(f.scatter * (1/f.weight + f.xx*x*x + 2*f.xy*x*y + f.yy*y*y))
}

// turnErr is the standard error of the map's rotation, degrees.
func (f *fitted) turnErr() float64 {
	return math.Sqrt(f.scatter*f.turn) / f.scale() * 180 / math.Pi
}

// leave works out the scatter that the map leaves, of so many figures fitted to each
// coordinate: of each pair by its share in the map, as the weights are not those of all that
// moves images; and over what so many pairs of one weight leave free.
func (f *fitted) leave(t *tied, figures float64) {
	var sum, squares float64
	for i, p := range t.a {
		x, y := f.Apply(p.x, p.y)
		w2 := t.weight[i] * t.weight[i]
		sum, squares = sum+w2*(square(x-t.b[i].x)+square(y-t.b[i].y))/2, squares+w2
	}
	n := f.weight * f.weight / squares
	f.scatter = sum / f.weight * n / max(1, n-figures)
}

func square(v float64) float64 { return v * v }

// moments are the sums of the products of the points' coordinates about their means.
type moments struct {
	a, b                       point // the means
	weight                     float64
	xx, xy, yy, ux, uy, vx, vy float64
}

func (t *tied) moments() (m moments) {
	for i, w := range t.weight {
		m.weight += w
		m.a.x, m.a.y = m.a.x+w*t.a[i].x, m.a.y+w*t.a[i].y
		m.b.x, m.b.y = m.b.x+w*t.b[i].x, m.b.y+w*t.b[i].y
	}
	m.a.x, m.a.y, m.b.x, m.b.y = m.a.x/m.weight, m.a.y/m.weight, m.b.x/m.weight, m.b.y/m.weight
	for i, w := range t.weight {
		x, y, u, v := t.a[i].x-m.a.x, t.a[i].y-m.a.y, t.b[i].x-m.b.x, t.b[i].y-m.b.y
		m.xx += w * x * x
		m.xy += w * x * y
		m.yy += w * y * y
		m.ux += w * u * x
		m.uy += w * u * y
		m.vx += w * v * x
		m.vy += w * v * y
	}
	return m
}

// similarity is the best shift, rotation and scale. It fails on points that are one.
func (t *tied) similarity() (fitted, bool) {
	m := t.moments()
	norm := m.xx + m.yy
	if !(norm > 0) {
		return fitted{}, false
	}
	c, s := (m.ux+m.vy)/norm, (m.vx-m.uy)/norm
	f := fitted{at: m.a, weight: m.weight, xx: 1 / norm, yy: 1 / norm, turn: 1 / norm}
	f.Transform = Transform{A: c, B: -s, C: m.b.x - c*m.a.x + s*m.a.y, D: s, E: c, F: m.b.y - s*m.a.x - c*m.a.y}
	f.leave(t, 2)
	return f, true
}

// affine is the best affine map. It fails on points in line.
func (t *tied) affine() (fitted, bool) {
	m := t.moments()
	det := m.xx*m.yy - m.xy*m.xy
	if !(det > 1e-6*m.xx*m.yy) {
		return fitted{}, false
	}
	// The angle is half the difference of two slopes of independent coordinates.
	f := fitted{at: m.a, weight: m.weight, xx: m.yy / det, xy: -m.xy / det, yy: m.xx / det, turn: (m.xx + m.yy) / det / 4}
	f.A, f.B = (m.ux*m.yy-m.uy*m.xy)/det, (m.uy*m.xx-m.ux*m.xy)/det
	f.D, f.E = (m.vx*m.yy-m.vy*m.xy)/det, (m.vy*m.xx-m.vx*m.xy)/det
	f.C, f.F = m.b.x-f.A*m.a.x-f.B*m.a.y, m.b.y-f.D*m.a.x-f.E*m.a.y
	f.leave(t, 3)
	return f, true
}
