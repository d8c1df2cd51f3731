package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// starsOn draws noise of sd 10 on a level of 500 with Gaussian stars of 3 px.
func starsOn(rng *rand.Rand, w, h int, list []stars.Star) []float32 {
	data := make([]float32, w*h)
	for i := range data {
		data[i] = float32(500 + 10*rng.NormFloat64())
	}
	const sd = 3 / stars.SigmaToFWHM
	for _, s := range list {
		for y := max(0, int(s.Y)-8); y < min(h, int(s.Y)+9); y++ {
			for x := max(0, int(s.X)-8); x < min(w, int(s.X)+9); x++ {
				r2 := (float64(x)-s.X)*(float64(x)-s.X) + (float64(y)-s.Y)*(float64(y)-s.Y)
				data[y*w+x] += float32(s.Flux / (2 * math.Pi * sd * sd) * math.Exp(-r2/(2*sd*sd)))
			}
		}
	}
	return data
}

// Five stars of three to four times their noise each are found together, where they
// are, and with the light that they have; noise alone, another bright star or a field
// pointed elsewhere show none of them.
func TestSeek(t *testing.T) {
	const w, h, dx, dy, dim = 320, 240, 7.4, -4.3, 0.35
	expected := []stars.Star{{X: 60, Y: 50, Flux: 700}, {X: 250, Y: 60, Flux: 640}, {X: 150, Y: 120, Flux: 600}, {X: 80, Y: 190, Flux: 560}, {X: 240, Y: 180, Flux: 600}}
	opt := stars.DefaultOptions
	var ms Measurer
	var got, want, sigma float64
	found := 0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 17))
		var there []stars.Star
		for _, s := range expected {
			there = append(there, stars.Star{X: s.X + dx, Y: s.Y + dy, Flux: dim * s.Flux})
		}
		s := ms.Seek(starsOn(rng, w, h, there), w, h, opt, expected, 3, math.NaN(), 20)
		if s.Found {
			found++
			if math.Hypot(s.DX-dx, s.DY-dy) > 1.5 {
				t.Errorf("seed %d: found at %.1f, %.1f", seed, s.DX, s.DY)
			}
			for i := range s.Flux {
				got, want, sigma = got+s.Flux[i], want+there[i].Flux, math.Hypot(sigma, s.Err[i])
			}
		}
		if s := ms.Seek(starsOn(rng, w, h, nil), w, h, opt, expected, 3, math.NaN(), 20); s.Found || !(s.Most < 0.6) {
			t.Errorf("seed %d: of noise %v found, %.2f of their light at most", seed, s.Found, s.Most)
		}
		other := []stars.Star{{X: 150, Y: 110, Flux: 20000}}
		if s := ms.Seek(starsOn(rng, w, h, other), w, h, opt, expected, 3, math.NaN(), 20); s.Found {
			t.Errorf("seed %d: one star is taken for five", seed)
		}
	}
	// An aperture of one FWHM holds 15/16 of a Gaussian's light; the best of some shifts
	// has half a standard error more than the true one, of each field.
	if found < 8 || !(math.Abs(got-want*15/16) < 3*sigma+0.5*sigma*math.Sqrt(float64(found))) {
		t.Errorf("%d of 12 found, with light %.0f ± %.0f, want %.0f", found, got, sigma, want*15/16)
	}
}

// shine adds images of a shape of unit light to a picture.
func shine(data []float32, w, h int, list []stars.Star, reach int, shape func(r float64) float64) {
	for _, s := range list {
		sum := 0.0
		each := func(do func(at int, v float64)) {
			for y := max(0, int(s.Y)-reach); y < min(h, int(s.Y)+reach+1); y++ {
				for x := max(0, int(s.X)-reach); x < min(w, int(s.X)+reach+1); x++ {
					do(y*w+x, shape(math.Hypot(float64(x)-s.X, float64(y)-s.Y)))
				}
			}
		}
		each(func(_ int, v float64) { sum += v })
		each(func(at int, v float64) { data[at] += float32(s.Flux * v / sum) })
	}
}

// Five stars of which no one could be found once they are spread, by seeing or as rings, keep
// their light, and all together show how far it reaches; dimmed ones are as small as ever.
func TestSeekTellsSoftFromDimmed(t *testing.T) {
	const w, h, dx, dy, fwhm = 400, 300, 5.3, -7.8, 3.0
	expected := []stars.Star{{X: 90, Y: 80, Flux: 2400}, {X: 310, Y: 70, Flux: 2100}, {X: 190, Y: 150, Flux: 1900}, {X: 100, Y: 220, Flux: 2000}, {X: 300, Y: 210, Flux: 1800}}
	gauss := func(fwhm float64) func(r float64) float64 {
		return func(r float64) float64 { return math.Exp(-4 * math.Ln2 * r * r / (fwhm * fwhm)) }
	}
	ring := func(outer float64) func(r float64) float64 {
		return func(r float64) float64 {
			return min(max(outer-r+0.5, 0), 1) * min(max(r-0.35*outer+0.5, 0), 1)
		}
	}
	for _, c := range []struct {
		name  string
		share float64
		size  float64 // px, half-flux diameter, with what pixels add
		err   float64 // of it: noise's, three standard errors of five stars of that signal, and where the curve ends
		shape func(r float64) float64
	}{
		{"as ever", 1, 3.1, 0.3, gauss(fwhm)},
		{"dimmed", 0.5, 3.1, 0.6, gauss(fwhm)},
		{"half as wide again", 1, 4.6, 0.6, gauss(1.5 * fwhm)},
		{"twice as wide", 1, 6.1, 1.2, gauss(2 * fwhm)},
		{"rings", 1, 10.5, 2.5, ring(7)}, // half of the area within 0.75 of the outer radius
	} {
		var ms Measurer
		var sizes, light float64
		const seeds = 4
		for seed := range uint64(seeds) {
			data := starsOn(rand.New(rand.NewPCG(seed, 31)), w, h, nil)
			var there []stars.Star
			for _, s := range expected {
				there = append(there, stars.Star{X: s.X + dx, Y: s.Y + dy, Flux: c.share * s.Flux})
			}
			shine(data, w, h, there, 30, c.shape)
			got := ms.Seek(data, w, h, stars.DefaultOptions, expected, fwhm, 3.1, 20)
			if !got.Found || !(math.Abs(got.Size.V-c.size) <= c.err) || got.Size.N != len(expected) {
				t.Errorf("%s, seed %d: found %v, half-flux diameter %.2f ± %.2f px of %d stars, want %.1f", c.name, seed, got.Found, got.Size.V, got.Size.Err, got.Size.N, c.size)
				continue
			}
			sizes += got.Size.V / seeds
			for _, v := range got.Flux {
				light += v / 10200 / seeds
			}
		}
		// An aperture as wide as the image holds all of its light but a Gaussian's 1/16; its
		// place and width are told by the noise too, by which the light is off by some hundredths.
		if least, most := 0.86*c.share, 1.06*c.share; !(light > least && light < most) {
			t.Errorf("%s: light %.2f of what was expected, want between %.2f and %.2f; half-flux diameter %.2f px", c.name, light, least, most, sizes)
		}
	}
}

// Rings so faint that what is around them hides where their light ends are larger than the
// aperture in which hardly any of it is, and no clouds.
func TestSeekFaintRings(t *testing.T) {
	const w, h, outer, flux, seeds = 400, 300, 9.0, 900.0, 8
	expected := []stars.Star{{X: 90, Y: 80, Flux: flux}, {X: 310, Y: 70, Flux: flux}, {X: 190, Y: 150, Flux: flux}, {X: 100, Y: 220, Flux: flux}, {X: 300, Y: 210, Flux: flux}}
	ring := func(r float64) float64 { return min(max(outer-r+0.5, 0), 1) * min(max(r-0.35*outer+0.5, 0), 1) }
	var sizes, light []float64
	for seed := range uint64(seeds) {
		data := starsOn(rand.New(rand.NewPCG(seed, 47)), w, h, nil)
		shine(data, w, h, expected, 30, ring)
		var ms Measurer
		if got := ms.Seek(data, w, h, stars.DefaultOptions, expected, 3, 3.1, 10); got.Found && got.Size.OK() {
			sum := 0.0
			for _, v := range got.Flux {
				sum += v / (flux * float64(len(expected)))
			}
			sizes, light = append(sizes, got.Size.Surely()), append(light, sum)
		}
	}
	// Half of the area lies within 0.75 of the outer radius; noise of a tenth of the light, and
	// the best of some shifts, leave it within a third.
	if len(sizes) < seeds*3/4 || !(stats.Median(sizes) > 2*3.1 && slices.Max(sizes) < 1.5*2*0.75*outer) || !(math.Abs(stats.Median(light)-1) <= 0.33) {
		t.Errorf("%d of %d found, surely wider than %.1f px, with light %.2f", len(sizes), seeds, sizes, light)
	}
}

// Pixels without a value beside the stars hide neither these nor how far their light reaches.
func TestSeekBesideHotPixels(t *testing.T) {
	const w, h = 400, 300
	expected := []stars.Star{{X: 90, Y: 80, Flux: 4000}, {X: 310, Y: 70, Flux: 4000}, {X: 190, Y: 150, Flux: 4000}, {X: 100, Y: 220, Flux: 4000}}
	data := starsOn(rand.New(rand.NewPCG(1, 41)), w, h, nil)
	shine(data, w, h, expected, 30, func(r float64) float64 { return math.Exp(-r * r / 30) }) // FWHM 9.1 px
	opt := stars.DefaultOptions
	for i := 37; i < w*h; i += 101 { // one in a hundred
		data[i] = 5000
		opt.Hot = append(opt.Hot, int32(i))
	}
	var ms Measurer
	got := ms.Seek(data, w, h, opt, expected, 3, 3.1, 10)
	if !got.Found || !(math.Abs(got.Size.V-9.1) <= 1.2) || got.Size.N != 4 {
		t.Errorf("found %v, half-flux diameter %.2f ± %.2f px of %d stars, want 9.1 of 4", got.Found, got.Size.V, got.Size.Err, got.Size.N)
	}
}

// Images that are as wide in the sub that showed them, a galaxy's for one, are followed no
// further than stars are: what is around them would be, from place to place.
func TestSeekAsWideAsUsual(t *testing.T) {
	const w, h = 400, 300
	expected := []stars.Star{{X: 90, Y: 80, Flux: 8000}, {X: 310, Y: 70, Flux: 8000}, {X: 190, Y: 150, Flux: 8000}, {X: 100, Y: 220, Flux: 8000}}
	data := starsOn(rand.New(rand.NewPCG(3, 43)), w, h, nil)
	shine(data, w, h, expected, 40, func(r float64) float64 { return math.Exp(-r * r / 30) }) // FWHM 9.1 px
	var ms Measurer
	for _, c := range []struct{ usual, size float64 }{{math.NaN(), 8.1}, {8.1, 8.1}, {3.1, 9.1}} { // within 2.5 times 3 px it is 8.1 px
		got := ms.Seek(slices.Clone(data), w, h, stars.DefaultOptions, expected, 3, c.usual, 3)
		if !got.Found || math.Hypot(got.DX, got.DY) > 1.5 || !(math.Abs(got.Size.V-c.size) < 0.4) {
			t.Errorf("usual %.1f px: found %v at %.1f, %.1f, half-flux diameter %.2f ± %.2f px, want %.1f", c.usual, got.Found, got.DX, got.DY, got.Size.V, got.Size.Err, c.size)
		}
	}
}
