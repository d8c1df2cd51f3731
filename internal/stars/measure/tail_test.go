package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// left draws a field whose guide star was lost on the way: so large a share of each star's
// light is strewn evenly along a line to one side, or to both.
func left(seed uint64, share, long, angle float64, both bool) *simulated.Sim {
	const sky, fwhm, pieces = 200, 3, 20
	s := simulated.NewSim(seed, 640, 480, sky)
	q := simulated.PSF{Fwhm: fwhm}
	for i, at := range s.Scatter(70, 6) {
		flux := s.Signal(400/math.Pow(1+float64(i)/8, 1.2), sky, q)
		s.Spot(at[0], at[1], flux*(1-share), fwhm)
		for k := range pieces {
			r := long * (float64(k) + 0.5) / pieces
			if both && k%2 == 1 {
				r = -r
			}
			s.Spot(at[0]+r*math.Cos(angle), at[1]+r*math.Sin(angle), flux*share/pieces, fwhm)
		}
	}
	return s
}

// What lies to one side of every star is found with its share of the light. Nearer than two
// FWHM it passes for the star's own: a fifth of a tail of 30 px. Direction: one of 16 axes.
func TestTailOfLostGuiding(t *testing.T) {
	t.Parallel()
	for seed, share := range []float64{0.2, 0.4, 0.6} {
		angle := 0.4 + 1.9*float64(seed)
		d := measureSim(t, left(uint64(seed), share, 30, angle, false)).Double
		if off := math.Cos(math.Atan2(d.Y, d.X) - angle); !d.Is() || d.Share.V < 0.65*share || d.Share.V > 1.1*share || off < math.Cos(math.Pi/16) {
			t.Errorf("share %v at %.1f, %.1f px; want %v along %.2f", d.Share, d.X, d.Y, share, angle)
		}
	}
}

// Spikes have two sides, and are no tail; nor has a plain field any.
func TestNoTail(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		for _, share := range []float64{0, 0.3} {
			if d := measureSim(t, left(10+seed, share, 30, 0.7, true)).Double; d.Is() {
				t.Errorf("seed %d, %v in spikes: %v at %.1f, %.1f px", seed, share, d.Share, d.X, d.Y)
			}
		}
	}
}
