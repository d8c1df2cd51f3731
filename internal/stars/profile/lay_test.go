package profile

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars/detect"
)

// Vector instructions lay bit for bit the table that one pixel after another gives, by
// the Laplacian and by nodes, in the middle of a star and where its profile is no more
// than a table's end; and leave alone what lies beyond it.
func TestLay(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, fwhm := range []float64{1.3, 3.2} {
		for n := range 258 {
			p := seedOf(detect.RoundSeeing(fwhm))
			p[0], p[1], p[2], p[3], p[7] = rng.NormFloat64(), rng.NormFloat64(), 100*rng.Float64(), rng.NormFloat64(), 0.02+0.4*rng.Float64()
			p[5] = 0.3 * p[4] * rng.NormFloat64() // beyond 1, u turns negative
			var f fitter
			f.prepareFor(&p, false)
			f.radial.set(p[7])
			stamp := make([]sample, n)
			for i := range stamp {
				stamp[i] = sample{20 * rng.NormFloat64(), 20 * rng.NormFloat64(), rng.NormFloat64(), 1}
			}
			if n%3 > 0 { // none beyond the table
				for i := range stamp {
					stamp[i].x, stamp[i].y = math.Remainder(stamp[i].x, 10), math.Remainder(stamp[i].y, 10)
				}
			}
			got, want := make([]params, n), make([]params, n)
			f.lay(got, stamp, &p)
			f.layPlain(want, stamp, &p)
			for i := range want {
				if got[i] != want[i] {
					t.Fatalf("FWHM %g, pixel %d of %d: %v, want %v", fwhm, i, n, got[i], want[i])
				}
			}
		}
	}
}

func BenchmarkLay(b *testing.B) {
	for _, fwhm := range []float64{1.6, 3.2} {
		p := seedOf(detect.RoundSeeing(fwhm))
		p[2] = 100
		var f fitter
		f.prepareFor(&p, false)
		f.radial.set(p[7])
		stamp, table := make([]sample, 250), make([]params, 250)
		for i := range stamp {
			stamp[i] = sample{float64(i%16) - 8, float64(i/16) - 8, 1, 1}
		}
		for name, lay := range map[string]func([]params, []sample, *params){"vector": f.lay, "plain": f.layPlain} {
			b.Run(name+map[bool]string{true: "/laplacian", false: "/nodes"}[f.laplace]+"/pixels=250", func(b *testing.B) {
				for b.Loop() {
					lay(table, stamp, &p)
				}
			})
		}
	}
}
