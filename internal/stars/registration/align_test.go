package registration

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// Where the reference's centre must fall, within 0.1 px and 0.02 degrees (the
// bar for shifts; 0.05 px a star over a hundred stars leaves ten times less).
func checkAlignment(t *testing.T, what string, a Alignment, dx, dy, degrees float64) {
	t.Helper()
	if !a.Matched() {
		t.Errorf("%v: not matched: %v", what, a.ShiftX.Why)
		return
	}
	if !(math.Abs(a.ShiftX.V-dx) <= 0.1) || !(math.Abs(a.ShiftY.V-dy) <= 0.1) || !(math.Abs(math.Remainder(a.RotationDeg.V-degrees, 360)) <= 0.02) {
		t.Errorf("%s: shift %.3f, %.3f px, rotation %.4f°; want %.3f, %.3f, %.3f", what, a.ShiftX.V, a.ShiftY.V, a.RotationDeg.V, dx, dy, degrees)
	}
}

func TestAlignSurvives(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 3))
		const w, h = 1600, 1200
		sky := simulated.NewSky(rng, 900, 500, w, h)
		third := func(x, y float64) bool { return rng.Float64() < 0.3 }
		cases := []struct {
			name         string
			dx, dy, turn float64
			f            *stars.Field
		}{
			{"reference", 0, 0, 0, sky.View(rng, w, h, 0, 0, 0, 2, false, simulated.All)},
			{"dither of 300 px", 300, -300, 0, sky.View(rng, w, h, 300, -300, 0, 0.9, false, simulated.All)},
			{"5 degrees", 20, 11, 5, sky.View(rng, w, h, 20, 11, 5, 0.9, false, simulated.All)},
			{"pier flip", -40, 25, 180, sky.View(rng, w, h, -40, 25, 180, 0.9, false, simulated.All)},
			{"pier flip, axis off", 12, 8, -179.3, sky.View(rng, w, h, 12, 8, -179.3, 0.9, false, simulated.All)},
			{"70 % of the stars gone", 15, -7, 0.1, sky.View(rng, w, h, 15, -7, 0.1, 0.9, false, third)},
			{"70 % gone, dithered and turned", -120, 90, -3, sky.View(rng, w, h, -120, 90, -3, 0.9, false, third)},
			{"only one third of the frame clear", 5, 3, 0, sky.View(rng, w, h, 5, 3, 0, 0.8, false, func(x, y float64) bool { return x < w*0.3 })},
			{"thin cloud over all", 8, 2, 0, sky.View(rng, w, h, 8, 2, 0, 0.2, false, simulated.All)},
			{"other filter", 33, -21, 0, sky.View(rng, w, h, 33, -21, 0, 0.7, true, simulated.All)},
			{"other filter, flipped, 70 % gone", -9, 4, 180, sky.View(rng, w, h, -9, 4, 180, 0.7, true, third)},
		}
		var fields []*stars.Field
		for _, c := range cases {
			fields = append(fields, c.f)
		}
		al := alignTo(fields, 0)
		for i, c := range cases {
			checkAlignment(t, c.name, al[i], c.dx, c.dy, c.turn)
			if flipped := math.Abs(c.turn) > 135; al[i].Matched() && al[i].Flipped != flipped {
				t.Errorf("%s: flipped %v", c.name, al[i].Flipped)
			}
		}
	}
}

// A sub of another target, with more stars than any, is not tied to the others
// and does not become the reference.
func TestAlignWrongTarget(t *testing.T) {
	for seed := range simulated.Draws(5) {
		rng := rand.New(rand.NewPCG(seed, 4))
		const w, h = 1000, 800
		sky, elsewhere := simulated.NewSky(rng, 400, 50, w, h), simulated.NewSky(rng, 900, 50, w, h)
		fields := []*stars.Field{
			elsewhere.View(rng, w, h, 0, 0, 0, 1, false, simulated.All),
			sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All),
			sky.View(rng, w, h, 9, 5, 0, 0.9, false, simulated.All),
			nil,
			{Width: w, Height: h},
			sky.View(rng, w, h, -9, 5, 0, 0.8, false, simulated.All),
		}
		al, ref := Align(fields)
		if ref == 0 {
			t.Fatalf("seed %d: the wrong target is the reference", seed)
		}
		for _, i := range []int{0, 3, 4} {
			if al[i].Matched() || al[i].ShiftX.Why.Code == "" {
				t.Errorf("seed %d: field %d matched %v, reason %v", seed, i, al[i].Matched(), al[i].ShiftX.Why)
			}
		}
		for _, i := range []int{1, 2, 5} {
			if !al[i].Matched() {
				t.Errorf("seed %d: field %d not matched: %v", seed, i, al[i].ShiftX.Why)
			}
		}
	}
}

// Eight stars through a narrow filter, against the same eight and a few more.
func TestAlignSparse(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 5))
		const w, h = 1000, 800
		sky := simulated.NewSky(rng, 9, 0, w-40, h-40)
		for i := range sky.Flux {
			sky.Flux[i] += 1000
		}
		fields := []*stars.Field{sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All), sky.View(rng, w, h, 14, -6, 0.2, 0.9, false, simulated.All)}
		al, ref := Align(fields)
		if ref == 0 {
			checkAlignment(t, "sparse", al[1], 14, -6, 0.2)
		} else if !al[0].Matched() {
			t.Errorf("seed %d: not matched", seed)
		}
	}
}

// Faint stars are paired as far from their places as noise moves them, the more so
// the broader they are; and with themselves. Their places scatter as an unbiased
// centre does at best: √2 σ over the signal to noise.
func TestPairsFaintStars(t *testing.T) {
	for _, fwhm := range []float64{2.5, 5, 8, 12} {
		rng := rand.New(rand.NewPCG(uint64(10*fwhm), 5))
		const w, h, n = 1200, 900, 400
		a, b := &stars.Field{Width: w, Height: h}, &stars.Field{Width: w, Height: h}
		for k := range n { // brightest first
			x, y, snr := rng.Float64()*w, rng.Float64()*h, 6*math.Pow(float64(k+1)/n, -0.9)
			for _, f := range []*stars.Field{a, b} {
				f.FWHM.V = fwhm
				err := math.Sqrt2 * fwhm / stars.SigmaToFWHM / snr
				f.Stars = append(f.Stars, stars.Star{X: x + err*rng.NormFloat64(), Y: y + err*rng.NormFloat64(), SNR: snr, Flux: snr, FluxErr: 1})
			}
		}
		m := newMatcher(a)
		al := m.match(b, m.begin(b, Identity))
		right, wrong := 0, 0
		for _, p := range al.Pairs {
			if p[0] == p[1] {
				right++
			} else {
				wrong++
			}
		}
		// Two axes within three standard errors: all but one in ninety. A few fall on
		// another star's place by chance.
		if right < n*97/100 || wrong > n/100 {
			t.Errorf("FWHM %.1f px: %d of %d stars paired, %d wrongly", fwhm, right, n, wrong)
		}
		if math.Hypot(al.ShiftX.V, al.ShiftY.V) > 4*math.Hypot(al.ShiftX.Err, al.ShiftY.Err)+0.02 {
			t.Errorf("FWHM %.1f px: shift %v, %v", fwhm, al.ShiftX, al.ShiftY)
		}
	}
}
