package plane

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Of green pixels that are hot by 30 standard deviations of noise and more, all but a
// fiftieth are found (pairs side by side among them), and no pixel of a star's middle
// is taken for one, however sharp the stars, few or many, and the sky's colour.
func TestLonePixelsOfMosaics(t *testing.T) {
	for _, fwhm := range []float64{1.1, 1.5, 2.5, 5} {
		for _, count := range []int{0, 20, 150} {
			for _, share := range []float64{0, 0.003, 0.02} {
				t.Run(fmt.Sprintf("%d stars of %v px, %v hot", count, fwhm, share), func(t *testing.T) {
					const w, h, green = 300, 260, 1
					s := simulated.NewSim(uint64(100*fwhm)+uint64(count), w, h, 200)
					at := s.Scatter(count, 9)
					for i, p := range at {
						s.Spot(p[0], p[1], s.Signal(30+500/float64(i+1), 200, simulated.PSF{Fwhm: fwhm}), fwhm)
					}
					coloured(s.E, w, green)
					noise := math.Sqrt(0.8*200 + 9)
					hot := map[int]float64{}
					for range int(share * w * h) {
						i, v := s.Rng.IntN(w*h), noise*8*math.Pow(s.Rng.Float64()+1e-3, -1)
						s.E[i] += v
						if x, y := i%w, i/w; (x+y)&1 == green && x > 3 && y > 3 && x < w-4 && y < h-4 {
							hot[i] += v / noise
						}
					}
					p := &Plane{W: w, H: h, R: s.Frame(), Green: green}
					p.MaskLone(0)
					checkLone(t, p, at, hot)
				})
			}
		}
	}
}

// coloured dims red, blue and green as filters do.
func coloured(e []float64, w, green int) {
	for i := range e {
		switch x, y := i%w, i/w; {
		case (x+y)&1 == green:
			e[i] *= 0.8
		case y&1 == 0:
			e[i] *= 0.5
		default:
			e[i] *= 0.45
		}
	}
}

// checkLone holds what was masked to the hot pixels and their heights, and to the
// stars: but for one in fifty, and one beside a hot pixel.
func checkLone(t *testing.T, p *Plane, stars [][2]float64, hot map[int]float64) {
	t.Helper()
	missed, strong, lost := 0, 0, 0
	onStar := func(i int) bool {
		return slices.ContainsFunc(stars, func(s [2]float64) bool {
			return math.Hypot(float64(i%p.W)-s[0], float64(i/p.W)-s[1]) < 6
		})
	}
	for i, v := range hot {
		if v > 30 && !onStar(i) {
			strong++
			if !slices.Contains(p.Lone, int32(i)) {
				missed++
			}
		}
	}
	for _, i := range p.Lone {
		if _, is := hot[int(i)]; !is && onStar(int(i)) {
			lost++
		}
		if p.R[i] == p.R[i] {
			t.Fatal("a hot pixel is not masked")
		}
	}
	if missed > 1+strong/50 || lost > 1+len(stars)/50 {
		t.Errorf("%d of %d hot pixels missed, %d stars lost", missed, strong, lost)
	}
}
