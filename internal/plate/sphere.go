package plate

import "math"

const rad = math.Pi / 180

// vector is a direction as a unit vector, point a place in a plane.
type vector [3]float64
type point struct{ x, y float64 }

func direction(ra, dec float64) vector {
	sr, cr := math.Sincos(ra * rad)
	sd, cd := math.Sincos(dec * rad)
	return vector{cd * cr, cd * sr, sd}
}

func (v vector) angles() (ra, dec float64) {
	ra = math.Mod(math.Atan2(v[1], v[0])/rad+360, 360)
	return ra, math.Atan2(v[2], math.Hypot(v[0], v[1])) / rad
}

func (v vector) dot(o vector) float64 { return v[0]*o[0] + v[1]*o[1] + v[2]*o[2] }

// chord is the straight distance of two directions in radians: for the angles within
// one field, the angle.
func (v vector) chord(o vector) float64 {
	a, b, c := v[0]-o[0], v[1]-o[1], v[2]-o[2]
	return math.Sqrt(a*a + b*b + c*c)
}

func (v vector) unit() vector {
	l := math.Sqrt(v.dot(v))
	return vector{v[0] / l, v[1] / l, v[2] / l}
}

// axes are east and north at a direction; at a pole, those of right ascension 0.
func (v vector) axes() (east, north vector) {
	l := math.Hypot(v[0], v[1])
	cr, sr := 1.0, 0.0
	if l > 1e-12 {
		cr, sr = v[0]/l, v[1]/l
	}
	return vector{-sr, cr, 0}, vector{-v[2] * cr, -v[2] * sr, l}
}

// project gives the place of a star in the plane that touches the sky at middle, degrees
// east and north; false for stars 90° or more away.
func project(star, middle vector) (point, bool) {
	along := star.dot(middle)
	if along < 1e-3 {
		return point{}, false
	}
	east, north := middle.axes()
	return point{star.dot(east) / along / rad, star.dot(north) / along / rad}, true
}

func lift(p point, middle vector) vector {
	east, north := middle.axes()
	var v vector
	for i := range v {
		v[i] = middle[i] + rad*(p.x*east[i]+p.y*north[i])
	}
	return v.unit()
}
