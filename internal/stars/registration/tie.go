package registration

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// tie is an alignment and the fit that its figures are of.
type tie struct {
	Alignment
	fit fitted
}

// tellErrors gives the figures the errors of the fit.
func (t *tie) tellErrors(ref *stars.Field) {
	err := t.fit.errAt(t.Transform.Inverse().Apply(middle(ref))) / t.fit.scale()
	t.ShiftX.Err, t.ShiftY.Err, t.RotationDeg.Err = err, err, t.fit.turnErr()
}

// onwards is the alignment of the tied field with a reference on which the field it is tied
// to lies by another alignment.
func (t *tie) onwards(f, ref *stars.Field, next *Alignment) Alignment {
	out := tie{NewAlignment(f, ref, t.Transform.Then(next.Transform), nil), t.fit}
	out.tellErrors(ref)
	for _, v := range []struct{ to, first, next *stats.Value }{
		{&out.ShiftX, &t.ShiftX, &next.ShiftX}, {&out.ShiftY, &t.ShiftY, &next.ShiftY}, {&out.RotationDeg, &t.RotationDeg, &next.RotationDeg},
	} {
		v.to.N, v.to.Err = v.first.N, math.Hypot(v.to.Err, v.next.Err)
	}
	return out.Alignment
}
