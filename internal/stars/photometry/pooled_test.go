package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// scaledField is one whose stars are brought to scale by an exponent and by what their pixels
// hold beyond the profile, each as far off as it is given.
func scaledField(fwhm, exponent, beyond float64) *stars.Field {
	const exponentErr = 0.04
	return &stars.Field{FWHM: stats.Known(fwhm, 0.02, 20), FluxErr: 0.01, FilterErr: 0.04,
		Scale: stars.Scale{Exponent: stats.Known(0.3+exponent, exponentErr, 20), LightErr: 0.7 * exponentErr, ProfileErr: 0.005,
			Beyond: 0.02 + beyond + (0.01-0.7*exponentErr)*exponent/exponentErr}}
}

// Faint stars are brought to the scale that the group tells: what is left of the errors of
// their own is a third. Stars far broader, surely unlike the others, or in too small a group
// keep theirs.
func TestPoolOfFaintFields(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var fields []*stars.Field
	var off []float64 // of each field's scale, by itself
	for range 20 {
		exponent, beyond := 0.04*rng.NormFloat64(), 0.04*rng.NormFloat64()
		fields, off = append(fields, scaledField(3, exponent, beyond)), append(off, beyond)
	}
	fields = append(fields, scaledField(7, 0, 0.04), scaledField(3, 0, 0.3), nil, &stars.Field{FluxErr: 0.1, FilterErr: 0.3})
	got := pool(fields)
	var by, left []float64
	for j, o := range off {
		by, left = append(by, o), append(left, o+got[j].filter)
		if !(got[j].filterErr < 0.02 && got[j].filterErr > 0.003) {
			t.Errorf("field %d: left of 0.04: %.4f", j, got[j].filterErr)
		}
	}
	// Of twenty fields, the error of what they have in common is a fifth of theirs.
	if before, after := math.Sqrt(stats.Variance(by)), math.Sqrt(stats.Variance(left)); !(after < before/3) {
		t.Errorf("scales off by %.4f, together by %.4f", before, after)
	}
	for j := 20; j < 22; j++ {
		if p := got[j]; !(math.Abs(p.filter) <= 0.01) || !(p.filterErr > 0.036) {
			t.Errorf("unlike the others: %+v", p)
		}
	}
	if p := got[23]; p != (pooled{fluxErr: 0.1, filterErr: 0.3}) {
		t.Errorf("of no fits: %+v", p)
	}
	if p := pool(fields[:fewestPooled-1])[0]; p != (pooled{fluxErr: 0.01, filterErr: 0.04}) {
		t.Errorf("of few fields: %+v", p)
	}
}
