package registration

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The shift that is proposed is off by up to four pixels along both axes: in a crowd, chance
// pairs are all that a shorter reach finds there.
func TestHalfTurnOfACrowd(t *testing.T) {
	const side, n = 600, 2800
	r := rand.New(rand.NewPCG(1, 1))
	ref := &stars.Field{Width: side, Height: side, FWHM: stats.Known(3, 0.01, 100)}
	for range n {
		ref.Stars = append(ref.Stars, stars.Star{X: side * r.Float64(), Y: side * r.Float64(), SNR: 6 / r.Float64()})
	}
	slices.SortFunc(ref.Stars, func(a, b stars.Star) int { return cmp.Compare(b.SNR, a.SNR) })
	for dx := 0.25; dx < 2*shiftCell; dx++ {
		for dy := 0.25; dy < 2*shiftCell; dy++ {
			turned := &stars.Field{Width: side, Height: side, FWHM: ref.FWHM}
			for _, s := range ref.Stars {
				e := math.Hypot(0.03, placeErr(ref, &s))
				s.X, s.Y = side-1-s.X+dx+e*r.NormFloat64(), side-1-s.Y+dy+e*r.NormFloat64()
				turned.Stars = append(turned.Stars, s)
			}
			got := newMatcher(ref).rival(turned, tie{Alignment: Alignment{RotationDeg: stats.Known(180, 0, 0)}})
			// Places are good to 0.05 px, and hundreds tell.
			if off := math.Hypot(got.ShiftX.V-dx, got.ShiftY.V-dy); off > 0.02 || len(got.Pairs) < n*9/10 {
				t.Errorf("moved by %.2f, %.2f: off by %.3f px with %d pairs", dx, dy, off, len(got.Pairs))
			}
		}
	}
}
