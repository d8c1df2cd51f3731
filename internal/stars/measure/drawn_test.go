package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// drawnStars draws elliptical Gaussians, light summed over each pixel.
func drawnStars(data []float32, w int, list []stars.Star, fwhm, e, deg float64) {
	a, b := fwhm/stars.SigmaToFWHM/math.Sqrt(1-e), fwhm/stars.SigmaToFWHM*math.Sqrt(1-e)
	sin, cos := math.Sincos(deg * math.Pi / 180)
	const parts, reach = 7, 14
	for _, s := range list {
		for j := int(s.Y) - reach; j <= int(s.Y)+reach; j++ {
			for i := int(s.X) - reach; i <= int(s.X)+reach; i++ {
				sum := 0.0
				for k := range parts * parts {
					x := float64(i) + (float64(k%parts)+0.5)/parts - 0.5 - s.X
					y := float64(j) + (float64(k/parts)+0.5)/parts - 0.5 - s.Y
					u, v := (cos*x+sin*y)/a, (cos*y-sin*x)/b
					sum += math.Exp(-(u*u + v*v) / 2)
				}
				data[j*w+i] += float32(s.Flux * sum / (parts * parts * 2 * math.Pi * a * b))
			}
		}
	}
}

// Light at known places shows how far it is drawn out, and which way, on every pixel and on
// half of a mosaic's; its error holds for stars too narrow for that, and where one
// is drawn out and another is not.
func TestSeekTellsDrawnOut(t *testing.T) {
	const w, h, dx, dy, seeds = 400, 300, 5.3, -7.8, 24
	bright := []stars.Star{{X: 90.2, Y: 80.4, Flux: 3600}, {X: 310.7, Y: 70.1, Flux: 3200}, {X: 190.4, Y: 150.9, Flux: 2900}, {X: 100.1, Y: 220.3, Flux: 3000}}
	for _, c := range []struct {
		name    string
		fwhm, e float64
		bayer   bool
		alone   bool    // the first star alone is drawn out
		err     float64 // the error, at most; 0: whatever it is, it covers what is found
	}{
		{"round", 3, 0, false, false, 0.1},
		{"drawn out", 3, 0.5, false, false, 0.1},
		{"far drawn out", 3, 0.7, false, false, 0.15},
		{"drawn out, of a mosaic", 3, 0.5, true, false, 0.15},
		{"narrow", 1.2, 0, false, false, 0},
		{"narrow, drawn out", 1.6, 0.5, false, false, 0.15},
		{"narrow, of a mosaic", 1.2, 0, true, false, 0},
		{"one of them", 3, 0.6, false, true, 0},
	} {
		told, beyond, chi := 0, 0, 0.0
		for seed := range uint64(seeds) {
			rng := rand.New(rand.NewPCG(seed, 53))
			data := starsOn(rng, w, h, nil)
			var there []stars.Star
			for _, s := range bright {
				there = append(there, stars.Star{X: s.X + dx + rng.Float64(), Y: s.Y + dy + rng.Float64(), Flux: s.Flux})
				if c.alone && len(there) == 1 {
					drawnStars(data, w, there, c.fwhm, c.e, 30)
					there[0].Flux = 0
				}
			}
			e := c.e
			if c.alone {
				e = 0
			}
			drawnStars(data, w, there, c.fwhm, e, 30)
			expected := make([]stars.Star, len(there))
			for i := range there {
				expected[i] = stars.Star{X: there[i].X - dx, Y: there[i].Y - dy, Flux: bright[i].Flux}
			}
			opt := stars.DefaultOptions
			opt.Bayer = c.bayer
			var ms Measurer
			got := ms.Seek(data, w, h, opt, expected, max(c.fwhm, 1.5), c.fwhm, 20)
			if !got.Found || got.Drawn.N == 0 {
				continue
			}
			told++
			sin, cos := math.Sincos(math.Pi / 3)
			d := got.Drawn
			off := math.Hypot(d.X-e*cos, d.Y-e*sin)
			if chi += off * off / (2 * d.Err * d.Err); off > 3.7*d.Err {
				beyond++
			}
			if c.err > 0 && d.Err > c.err {
				t.Errorf("%s, seed %d: drawn out by %.2f, %.2f ± %.2f: an error of %.2f is enough", c.name, seed, d.X, d.Y, d.Err, c.err)
			}
		}
		// One in a thousand is off by 3.7 errors; those of errors are a third for four stars,
		// and of narrow ones the waves of the lattice are a Gaussian's.
		if told < seeds*3/4 || beyond > 1 || chi/float64(told) > 2 {
			t.Errorf("%s: told %d of %d times, %d off by more than 3.7 errors, mean square %.2f of them", c.name, told, seeds, beyond, chi/float64(told))
		}
	}
}
