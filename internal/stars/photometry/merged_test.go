package photometry

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// Two stars that a sharp sub tells apart are one image in a soft one, whose light is then as
// uncertain as that of a blend. A star of a hundredth of the other's light does not matter to
// it, nor does one farther off.
func TestMergedInSoftSubs(t *testing.T) {
	field := func(fwhm float64) *stars.Field {
		f := &stars.Field{Width: 400, Height: 300, FWHM: stats.Known(fwhm, 0.05, 20)}
		for _, s := range [][3]float64{{100, 60, 1e5}, {106, 60, 6e4}, {200, 150, 1e5}, {206, 150, 1e3}, {300, 240, 1e5}, {320, 240, 6e4}} {
			f.Stars = append(f.Stars, stars.Star{X: s[0], Y: s[1], Flux: s[2], FluxErr: 50, SNR: s[2] / 50})
		}
		f.Count = len(f.Stars)
		return f
	}
	fields := []*stars.Field{field(3), field(5)} // 1.5 of them: 4.5 and 7.5 px
	al := make([]registration.Alignment, 2)
	for j := range al {
		al[j] = registration.Alignment{Transform: registration.Transform{A: 1, E: 1}}
		for k := range fields[j].Stars {
			al[j].Pairs = append(al[j].Pairs, [2]int{k, k})
		}
	}
	z := newZeroPoints(fields, al, nil)
	for j, want := range [][]bool{{false, false, false, false, false, false}, {true, true, false, true, false, false}} {
		for _, o := range z.obs[j] {
			if z.merged[j][o.star] != want[o.index] {
				t.Errorf("field %d, star %d: merged %v, want %v", j, o.index, z.merged[j][o.star], want[o.index])
			}
			if want[o.index] != (o.sigma >= besides) {
				t.Errorf("field %d, star %d: error of ln flux %.3f; %g and more where it is merged", j, o.index, o.sigma, besides)
			}
		}
	}
}
