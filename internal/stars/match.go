package stars

import "fitsqa/internal/stats"

// Transform maps a point of one field to another: X = A x + B y + C, Y = D x + E y + F.
type Transform struct{ A, B, C, D, E, F float64 }

// Alignment is how one field lies relative to the reference field of its target.
type Alignment struct {
	Transform      Transform   // this field's pixel -> the reference's pixel
	ShiftX, ShiftY stats.Value // px: where the reference's centre falls in this field, minus the centre
	RotationDeg    stats.Value // of this field relative to the reference, (-180, 180]
	Scale          float64
	Flipped        bool     // rotated by about 180° (pier flip)
	Pairs          [][2]int // index of star here, index of star in the reference
}

// Align ties fields of one target together. The result has one Alignment a
// field (with reasons where a field could not be tied) and the index of the
// reference field.
func Align(fields []*Field) (al []Alignment, reference int) { return nil, 0 }

// Transparencies solves one zero point a field over the matched stars of a
// group (fields shot through one filter with one exposure) and gives flux
// ratios to the group's clear reference. scale is exposure × gain relative to
// the group's first field (all 1 when equal).
func Transparencies(fields []*Field, al []Alignment, scale []float64) []Transparency { return nil }

// Transparency of one field.
type Transparency struct {
	Ratio      stats.Value // 1 is the best of the group; N = stars
	Unevenness stats.Value // % sd of the ratio over the field beyond what star noise explains
}
