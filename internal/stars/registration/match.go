package registration

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Transform maps a point of one field to another: X = A x + B y + C, Y = D x + E y + F.
type Transform struct{ A, B, C, D, E, F float64 }

// Identity leaves every point where it is.
var Identity = Transform{A: 1, E: 1}

// Apply maps a point.
func (t Transform) Apply(x, y float64) (float64, float64) {
	return t.A*x + t.B*y + t.C, t.D*x + t.E*y + t.F
}

// Then is the map that applies t first and next after it.
func (t Transform) Then(next Transform) Transform {
	return Transform{
		A: next.A*t.A + next.B*t.D, B: next.A*t.B + next.B*t.E, C: next.A*t.C + next.B*t.F + next.C,
		D: next.D*t.A + next.E*t.D, E: next.D*t.B + next.E*t.E, F: next.D*t.C + next.E*t.F + next.F,
	}
}

// Inverse is the way back.
func (t Transform) Inverse() Transform {
	det := t.A*t.E - t.B*t.D
	a, b, d, e := t.E/det, -t.B/det, -t.D/det, t.A/det
	return Transform{A: a, B: b, C: -(a*t.C + b*t.F), D: d, E: e, F: -(d*t.C + e*t.F)}
}

// rotation is the angle by which the map turns, degrees counter-clockwise.
func (t Transform) rotation() float64 { return math.Atan2(t.D-t.B, t.A+t.E) * 180 / math.Pi }

// scale is the factor by which the map stretches lengths.
func (t Transform) scale() float64 { return math.Sqrt(math.Abs(t.A*t.E - t.B*t.D)) }

// Alignment is how one field lies relative to the reference field of its target.
type Alignment struct {
	Transform      Transform   // this field's pixel -> the reference's pixel
	ShiftX, ShiftY stats.Value // px: where the reference's centre falls in this field, minus the centre
	RotationDeg    stats.Value // by which the stars of this field are turned counter-clockwise against the reference, (-180, 180]
	Scale          float64     // lengths in this field over lengths in the reference
	Flipped        bool        // rotated by about 180° (pier flip)
	Pairs          [][2]int    // index of star here, index of star in the reference
}

// Matched tells whether the field was tied to the reference.
func (a *Alignment) Matched() bool { return a.ShiftX.OK() }

func unmatched(why fact.Code, values ...fact.Value) Alignment {
	none := stats.Missing(why, values...)
	return Alignment{Transform: Identity, ShiftX: none, ShiftY: none, RotationDeg: none, Scale: math.NaN()}
}

// NewAlignment fills the figures that follow from a transform and its pairs, without
// errors.
func NewAlignment(f, ref *stars.Field, t Transform, pairs [][2]int) Alignment {
	x, y := t.Inverse().Apply(middle(ref))
	n := len(pairs)
	rotation := -t.rotation()
	if rotation <= -180 {
		rotation += 360
	}
	cx, cy := middle(f)
	return Alignment{
		Transform:   t,
		ShiftX:      stats.Known(x-cx, 0, n),
		ShiftY:      stats.Known(y-cy, 0, n),
		RotationDeg: stats.Known(rotation, 0, n),
		Scale:       1 / t.scale(),
		Flipped:     math.Abs(rotation) > 135,
		Pairs:       pairs,
	}
}

func middle(f *stars.Field) (x, y float64) {
	return float64(f.Width-1) / 2, float64(f.Height-1) / 2
}
