package photometry

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// withSeconds adds to each star that is bright enough an image dx, dy off with so
// large a share of its light.
func withSeconds(rng *rand.Rand, f *stars.Field, dx, dy, share float64) *stars.Field {
	for _, s := range slices.Clone(f.Stars) {
		flux := s.Flux*share + 40*rng.NormFloat64()
		if x, y := s.X+dx, s.Y+dy; flux > 200 && x > 0 && y > 0 && x < float64(f.Width) && y < float64(f.Height) {
			f.Stars = append(f.Stars, stars.Star{X: x, Y: y, Flux: flux, FluxErr: math.Hypot(40, math.Sqrt(flux)), SNR: flux / 40})
		}
	}
	slices.SortStableFunc(f.Stars, func(a, b stars.Star) int { return int(math.Copysign(1, b.Flux-a.Flux)) })
	f.Count = len(f.Stars)
	return f
}

// One sub with second images has most stars of all. It is not the reference, and
// the others, all clear, lack nothing; nor do they when it is one of only four, or
// nothing has found its second images.
func TestDoubledSubIsNoReference(t *testing.T) {
	for seed := range simulated.Draws(3) {
		for _, share := range []float64{0.08, 0.25} {
			for _, n := range []int{3, 20} {
				for _, known := range []bool{true, false} {
					rng := rand.New(rand.NewPCG(seed, 9))
					const w, h = 1200, 900
					sky := simulated.NewSky(rng, 500, 60, w, h)
					var fields []*stars.Field
					for k := range n {
						fields = append(fields, sky.View(rng, w, h, float64(3*k), float64(-2*k), 0, 1, false, simulated.All))
					}
					odd := withSeconds(rng, sky.View(rng, w, h, 1, 5, 0, 1, false, simulated.All), 13, -6, share)
					if known {
						odd.Double.Share.V, odd.Double.Share.N = share, 50
					}
					fields = slices.Insert(fields, n/2, odd)
					al, ref := registration.Align(fields)
					if ref == n/2 && (known || share > 0.2) {
						t.Errorf("share %v: the doubled one of %d is the reference", share, n+1)
					}
					light := Transparencies(fields, al, nil)
					for k, l := range light {
						if k != n/2 && !(l.Ratio.V > 0.97) {
							t.Errorf("share %v, known %v: sub %d of %d lets %v through", share, known, k, n+1, l.Ratio)
						}
						dx, dy := al[k].ShiftX.V-al[0].ShiftX.V, al[k].ShiftY.V-al[0].ShiftY.V
						want := [2]float64{float64(3 * k), float64(-2 * k)}
						if k == n/2 {
							want = [2]float64{1, 5}
						} else if k > n/2 {
							want = [2]float64{float64(3 * (k - 1)), float64(-2 * (k - 1))}
						}
						if !(math.Abs(dx-want[0]) <= 0.1) || !(math.Abs(dy-want[1]) <= 0.1) {
							t.Errorf("share %v: sub %d shifted by %.2f, %.2f px, want %v", share, k, dx, dy, want)
						}
					}
				}
			}
		}
	}
}

// A doubled sub has all of its light, in two images of each star, and as much weight in a stack
// for what is faint and wide; under cloud as well, as far as its second images were told apart.
func TestDoubledSubHasAllLight(t *testing.T) {
	for _, share := range []float64{0.05, 0.25, 0.45} {
		for _, through := range []float64{1, 0.6} {
			rng := rand.New(rand.NewPCG(4, 9))
			const w, h, odd = 1200, 900, 5
			sky := simulated.NewSky(rng, 300, 0, w, h)
			var fields []*stars.Field
			for k := range 12 {
				light := 1.0
				if k == odd {
					light = through * (1 - share)
				}
				f := sky.View(rng, w, h, float64(3*k), float64(-2*k), 0, light, false, simulated.All)
				if k == odd {
					f.Double.Share.V, f.Double.Share.N = share, 50
				}
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			// a star is known to 2 %, which the share makes up to 1/(1 - 0.45) times as large
			all := Transparencies(fields, al, nil)
			if v := all[odd].Ratio.V; !(math.Abs(v-through) <= 0.03*through) {
				t.Errorf("share %v: lets %.3f through, want %.2f", share, v, through)
			}
			was := all[odd].Ratio.V
			if Normalise(all, fields); !(math.Abs(all[odd].Ratio.V-was) <= 0.01*was) { // 1 to that of the best tenth
				t.Errorf("share %v: lets %.3f through, and %.3f once made normal again", share, was, all[odd].Ratio.V)
			}
		}
	}
}

// Coma and ghosts stand beside all stars of a group: no light of theirs is added to what haze
// let through.
func TestSecondImagesOfTheOptics(t *testing.T) {
	for _, share := range []float64{0.05, 0.2, 0.4} {
		rng := rand.New(rand.NewPCG(6, 9))
		const w, h = 1200, 900
		sky := simulated.NewSky(rng, 300, 0, w, h)
		var fields []*stars.Field
		for k := range 12 {
			through := 1.0
			if k > 7 {
				through = 0.7
			}
			f := sky.View(rng, w, h, float64(3*k), float64(-2*k), 0, through*(1-share), false, simulated.All)
			f.Double.Share.V, f.Double.Share.N = share+0.005*rng.NormFloat64(), 50 // as well as many stars tell it
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			// a star is known to 2 %, and a share's error is 0.01 of the light at most
			if k > 7 && math.Abs(got.Ratio.V-0.7) > 0.03 {
				t.Errorf("share %v, sub %d: lets %v through", share, k, got.Ratio)
			}
		}
	}
}
