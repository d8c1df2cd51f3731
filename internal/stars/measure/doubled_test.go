package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// jumped draws a field of which so large a share of the light lies dx, dy off.
func jumped(seed uint64, share, dx, dy float64) *simulated.Sim {
	const sky, fwhm = 200, 3
	s := simulated.NewSim(seed, 640, 480, sky)
	q := simulated.PSF{Fwhm: fwhm}
	for i, at := range s.Scatter(90, 6) {
		flux := s.Signal(400/math.Pow(1+float64(i)/8, 1.2), sky, q)
		s.Spot(at[0], at[1], flux*(1-share), fwhm)
		s.Spot(at[0]+dx, at[1]+dy, flux*share, fwhm)
	}
	return s
}

// A sub that jumped is found, with the offset of its second images (0.3 px: the
// faintest are known to 0.2 px each, and there are six at least) and their share of
// the light (a sixth of it, or 0.01: crowding), and keeps one image a star.
func TestDoubledSub(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		for k, share := range []float64{0.06, 0.12, 0.25, 0.4} {
			angle := float64(k)*1.3 + float64(seed)
			far := []float64{8, 11, 20, 35}[k]
			dx, dy := far*math.Cos(angle), far*math.Sin(angle)
			t.Run(fmt.Sprintf("%v of the light %v px off", share, far), func(t *testing.T) {
				f := measureSim(t, jumped(seed, share, dx, dy))
				d := f.Double
				if !d.Is() || math.Hypot(d.X-dx, d.Y-dy) > 0.3 || !(math.Abs(d.Share.V-share) <= max(0.01, share/6)) {
					t.Errorf("share %v, offset %.2f, %.2f px; want %.2f, %.2f", d.Share, d.X, d.Y, dx, dy)
				}
				if f.Count < 75 || f.Count > 95 {
					t.Errorf("%d stars of 90", f.Count)
				}
			})
		}
	}
}

// Neither an ordinary field, nor a crowded one, nor one with a track or a spike is
// doubled.
func TestNotDoubled(t *testing.T) {
	t.Parallel()
	for seed := range uint64(8) {
		s := jumped(100+seed, 0, 0, 0)
		if seed%2 == 1 {
			for range 900 {
				s.Spot(s.Rng.Float64()*640, s.Rng.Float64()*480, 600+3000*s.Rng.Float64(), 3)
			}
		}
		if f := measureSim(t, s); f.Double.Is() || !f.Double.Share.OK() {
			t.Errorf("seed %d: %d stars, doubled by %v at %.1f, %.1f", seed, f.Count, f.Double.Share, f.Double.X, f.Double.Y)
		}
	}
}
