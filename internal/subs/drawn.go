package subs

import (
	"math"

	"fitsqa/internal/stars"
)

// How far a sub's images are drawn out all alike is told by its own stars, or by the light at
// the places of the others' where too few of its own tell, or none.

func (s *Sub) byLight() bool {
	return s.Drawn.N > 0 && !s.Field.Defocused && (s.strangers() || !tellsShape(s.Field))
}

// TellsTrail tells whether stars of a field that agree on a width can be drawn out alike by
// more than chance: fewer than five cannot (e^-N, see byChance).
func TellsTrail(f *stars.Field) bool { return tellsShape(f) && f.Ellipticity.N >= 5 }

// ellipticityVector is the mean (e cos 2θ, e sin 2θ) over the field; its
// length is ellipticity × coherence by the definition of coherence.
func ellipticityVector(f *stars.Field) (x, y float64) {
	sin, cos := math.Sincos(2 * f.Angle.V * math.Pi / 180)
	e := f.Ellipticity.V * f.Coherence.V
	return e * cos, e * sin
}

func (s *Sub) ellipticityVector() (x, y float64) {
	if s.byLight() {
		return s.Drawn.X, s.Drawn.Y
	}
	return ellipticityVector(s.Field)
}

// ownElongation is the length of that vector, as far as it is no noise.
func (s *Sub) ownElongation() float64 {
	if s.byLight() {
		return s.Drawn.Length(0, 0)
	}
	return s.Field.Ellipticity.V * s.Field.Coherence.V
}

// byOptics is the ellipticity vector that the optics make, as far as it is known.
func (e *evidence) byOptics() (x, y float64) {
	if x, y = e.base.EllipticityX, e.base.EllipticityY; math.IsNaN(x) {
		return 0, 0
	}
	return x, y
}
