package tie

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
)

// sky is a catalogue of stars in the reference's pixels with fluxes through two
// filters whose order of brightness differs.
type skyField struct {
	x, y, flux, other []float64
}

func newSkyField(rng *rand.Rand, n int, reach, w, h float64) skyField {
	var s skyField
	for range n {
		s.x = append(s.x, -reach+rng.Float64()*(w+2*reach))
		s.y = append(s.y, -reach+rng.Float64()*(h+2*reach))
		// Numbers rise by 10^0.4 a magnitude or so (common practice, no source).
		f := 300 * math.Pow(rng.Float64(), -1.1)
		s.flux = append(s.flux, f)
		s.other = append(s.other, f*math.Exp(0.8*rng.NormFloat64()))
	}
	return s
}

// view draws a field of the sky: turned by degrees about the middle, shifted,
// through the other filter or not, each star surviving by keep(x, y).
func (s skyField) view(rng *rand.Rand, w, h int, dx, dy, degrees, transparency float64, other bool, keep func(x, y float64) bool) *stars.Field {
	f := &stars.Field{Width: w, Height: h}
	sn, cs := math.Sincos(degrees * math.Pi / 180)
	cx, cy := float64(w-1)/2, float64(h-1)/2
	for i := range s.x {
		u, v := s.x[i]-cx, s.y[i]-cy
		x, y := cx+dx+cs*u-sn*v, cy+dy+sn*u+cs*v
		if x < 3 || y < 3 || x > float64(w-4) || y > float64(h-4) || !keep(x, y) {
			continue
		}
		flux := s.flux[i]
		if other {
			flux = s.other[i]
		}
		const noise = 40
		flux = flux*transparency + noise*rng.NormFloat64()
		if flux < 5*noise {
			continue
		}
		err := math.Hypot(noise, math.Sqrt(flux))
		f.Stars = append(f.Stars, stars.Star{X: x + 0.05*rng.NormFloat64(), Y: y + 0.05*rng.NormFloat64(), Flux: flux, FluxErr: err, SNR: flux / err})
	}
	slices.SortFunc(f.Stars, func(a, b stars.Star) int {
		if a.Flux > b.Flux {
			return -1
		}
		return 1
	})
	f.Count = len(f.Stars)
	return f
}

func all(x, y float64) bool { return true }

// Where the reference's centre must fall, within 0.1 px and 0.02 degrees (the
// bar for shifts; 0.05 px a star over a hundred stars leaves ten times less).
func checkAlignment(t *testing.T, what string, a Alignment, dx, dy, degrees float64) {
	t.Helper()
	if !a.Matched() {
		t.Errorf("%s: not matched: %s", what, a.ShiftX.Why)
		return
	}
	if math.Abs(a.ShiftX.V-dx) > 0.1 || math.Abs(a.ShiftY.V-dy) > 0.1 || math.Abs(math.Remainder(a.RotationDeg.V-degrees, 360)) > 0.02 {
		t.Errorf("%s: shift %.3f, %.3f px, rotation %.4f°; want %.3f, %.3f, %.3f", what, a.ShiftX.V, a.ShiftY.V, a.RotationDeg.V, dx, dy, degrees)
	}
}

func TestAlignSurvives(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 3))
		const w, h = 1600, 1200
		sky := newSkyField(rng, 900, 500, w, h)
		third := func(x, y float64) bool { return rng.Float64() < 0.3 }
		cases := []struct {
			name         string
			dx, dy, turn float64
			f            *stars.Field
		}{
			{"reference", 0, 0, 0, sky.view(rng, w, h, 0, 0, 0, 2, false, all)},
			{"dither of 300 px", 300, -300, 0, sky.view(rng, w, h, 300, -300, 0, 0.9, false, all)},
			{"5 degrees", 20, 11, 5, sky.view(rng, w, h, 20, 11, 5, 0.9, false, all)},
			{"pier flip", -40, 25, 180, sky.view(rng, w, h, -40, 25, 180, 0.9, false, all)},
			{"pier flip, axis off", 12, 8, -179.3, sky.view(rng, w, h, 12, 8, -179.3, 0.9, false, all)},
			{"70 % of the stars gone", 15, -7, 0.1, sky.view(rng, w, h, 15, -7, 0.1, 0.9, false, third)},
			{"70 % gone, dithered and turned", -120, 90, -3, sky.view(rng, w, h, -120, 90, -3, 0.9, false, third)},
			{"only one third of the frame clear", 5, 3, 0, sky.view(rng, w, h, 5, 3, 0, 0.8, false, func(x, y float64) bool { return x < w*0.3 })},
			{"thin cloud over all", 8, 2, 0, sky.view(rng, w, h, 8, 2, 0, 0.2, false, all)},
			{"other filter", 33, -21, 0, sky.view(rng, w, h, 33, -21, 0, 0.7, true, all)},
			{"other filter, flipped, 70 % gone", -9, 4, 180, sky.view(rng, w, h, -9, 4, 180, 0.7, true, third)},
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
// seeds is how many draws a test takes of n: a fifth in short runs.
func seeds(n uint64) uint64 {
	if testing.Short() {
		return (n + 4) / 5
	}
	return n
}

func TestAlignWrongTarget(t *testing.T) {
	for seed := range seeds(5) {
		rng := rand.New(rand.NewPCG(seed, 4))
		const w, h = 1000, 800
		sky, elsewhere := newSkyField(rng, 400, 50, w, h), newSkyField(rng, 900, 50, w, h)
		fields := []*stars.Field{
			elsewhere.view(rng, w, h, 0, 0, 0, 1, false, all),
			sky.view(rng, w, h, 0, 0, 0, 1, false, all),
			sky.view(rng, w, h, 9, 5, 0, 0.9, false, all),
			nil,
			{Width: w, Height: h},
			sky.view(rng, w, h, -9, 5, 0, 0.8, false, all),
		}
		al, ref := Align(fields)
		if ref == 0 {
			t.Fatalf("seed %d: the wrong target is the reference", seed)
		}
		for _, i := range []int{0, 3, 4} {
			if al[i].Matched() || al[i].ShiftX.Why == "" {
				t.Errorf("seed %d: field %d matched %v, reason %q", seed, i, al[i].Matched(), al[i].ShiftX.Why)
			}
		}
		for _, i := range []int{1, 2, 5} {
			if !al[i].Matched() {
				t.Errorf("seed %d: field %d not matched: %s", seed, i, al[i].ShiftX.Why)
			}
		}
	}
}

// Eight stars through a narrow filter, against the same eight and a few more.
func TestAlignSparse(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 5))
		const w, h = 1000, 800
		sky := newSkyField(rng, 9, 0, w-40, h-40)
		for i := range sky.flux {
			sky.flux[i] += 1000
		}
		fields := []*stars.Field{sky.view(rng, w, h, 0, 0, 0, 1, false, all), sky.view(rng, w, h, 14, -6, 0.2, 0.9, false, all)}
		al, ref := Align(fields)
		if ref == 0 {
			checkAlignment(t, "sparse", al[1], 14, -6, 0.2)
		} else if !al[0].Matched() {
			t.Errorf("seed %d: not matched", seed)
		}
	}
}

// Transparencies of dithered, flipped and clouded views against truth: 0.02 is
// the bar of the accuracy table, from 1 down to 0.15.
func TestTransparencies(t *testing.T) {
	for seed := range seeds(5) {
		rng := rand.New(rand.NewPCG(seed, 6))
		const w, h = 1200, 900
		sky := newSkyField(rng, 1500, 60, w, h)
		truth := []float64{1, 1, 0.99, 0.9, 0.8, 0.6, 0.4, 0.25, 0.15, 0.85, 1, 0.7, 0.5, 0.33}
		var fields []*stars.Field
		for i, v := range truth {
			turn := 0.0
			if i > 8 {
				turn = 180
			}
			fields = append(fields, sky.view(rng, w, h, 30*rng.NormFloat64(), 30*rng.NormFloat64(), turn, v, false, all))
		}
		// A variable star, brighter in the second half, and one that saturates.
		al, _ := Align(fields)
		for i, tr := range Transparencies(fields, al, nil) {
			if !tr.Ratio.OK() || math.Abs(tr.Ratio.V-truth[i]) > 0.02 {
				t.Errorf("seed %d field %d: transparency %.3f (%s), want %.3f", seed, i, tr.Ratio.V, tr.Ratio.Why, truth[i])
			}
			if tr.Unevenness.OK() && tr.Unevenness.V > 3 {
				t.Errorf("seed %d field %d: unevenness %.1f %% of an even field", seed, i, tr.Unevenness.V)
			}
		}
	}
}

// Half of the frame behind thick cloud: the light that reaches the frame is
// half, and it is uneven.
func TestTransparencyHalfHidden(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 7))
	const w, h = 1200, 900
	sky := newSkyField(rng, 1500, 60, w, h)
	var fields []*stars.Field
	for range 6 {
		fields = append(fields, sky.view(rng, w, h, 10*rng.NormFloat64(), 0, 0, 1, false, all))
	}
	fields = append(fields, sky.view(rng, w, h, 5, 0, 0, 1, false, func(x, y float64) bool { return x < w/2 }))
	al, _ := Align(fields)
	tr := Transparencies(fields, al, nil)
	got := tr[6]
	// Patches of a quarter of the side decide what is hidden: 0.5 +- 0.05.
	if math.Abs(got.Ratio.V-0.5) > 0.05 || !(got.Unevenness.V > 30) {
		t.Errorf("half hidden: ratio %.3f, unevenness %.1f", got.Ratio.V, got.Unevenness.V)
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
