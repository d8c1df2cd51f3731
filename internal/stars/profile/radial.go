package profile

import "math"

// radial is the Moffat profile of one exponent, (1 + k u)^-beta, as a table:
// cubic pieces in u, 64 to an octave of 1 + u, that meet with value and slope.
// They are within 1e-8 of the peak of the profile itself and cost a tenth of a
// logarithm and an exponential.
type radial struct {
	q      float64 // 1/beta of the table; 0: none yet
	beta   float64
	k      float64
	pieces [][4]float64
}

const (
	radialBits    = 6  // of the mantissa that choose the piece
	radialOctaves = 10 // of 1 + u, to u = 1023; beyond, the profile is computed
)

// set lays the table for an exponent, unless it is there.
func (r *radial) set(q float64) {
	if r.q == q {
		return
	}
	r.q, r.beta, r.k = q, 1/q, math.Exp2(q)-1
	const perOctave = 1 << radialBits
	r.pieces = resizedPieces(r.pieces, radialOctaves*perOctave)
	y0, s0 := r.exact(0)
	for i := range r.pieces {
		h := float64(int(1)<<(i/perOctave)) / perOctave
		y1, s1 := r.exact(pieceStart(i) - 1 + h)
		mean := (y1 - y0) / h // Hermite's cubic through both ends
		r.pieces[i] = [4]float64{y0, s0, (3*mean - 2*s0 - s1) / h, (s0 + s1 - 2*mean) / (h * h)}
		y0, s0 = y1, s1
	}
}

// exact is the profile and its slope in u.
func (r *radial) exact(u float64) (value, slope float64) {
	x := 1 + r.k*u
	value = math.Pow(x, -r.beta)
	return value, -r.beta * r.k * value / x
}

// pieceStart is 1 + u where a piece begins.
func pieceStart(i int) float64 {
	return math.Float64frombits(uint64(1023<<radialBits+i) << (52 - radialBits))
}

// at is the profile at u >= 0.
func (r *radial) at(u float64) float64 {
	x := 1 + u
	bits := math.Float64bits(x)
	i := int(bits>>(52-radialBits)) - 1023<<radialBits
	if uint(i) >= uint(len(r.pieces)) {
		y, _ := r.exact(u)
		return y
	}
	c := &r.pieces[i]
	t := x - math.Float64frombits(bits>>(52-radialBits)<<(52-radialBits))
	return c[0] + t*(c[1]+t*(c[2]+t*c[3]))
}

func resizedPieces(p [][4]float64, n int) [][4]float64 {
	if cap(p) < n {
		return make([][4]float64, n)
	}
	return p[:n]
}
