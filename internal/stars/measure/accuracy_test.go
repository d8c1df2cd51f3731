package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// drawn is a frame of stars with signal to noise from 30 to 150.
func drawn(seed uint64, side int, sky float64, q simulated.PSF) *simulated.Sim {
	s := simulated.NewSim(seed, side, side, sky)
	for _, at := range s.Scatter(50, 5*q.Fwhm+q.Trail) {
		s.Star(at[0], at[1], s.Signal(30*math.Pow(5, s.Rng.Float64()), sky, q), q)
	}
	return s
}

// seeds is how many draws a test takes of n: a fifth in short runs.
func seeds(n uint64) uint64 {
	if testing.Short() {
		return (n + 4) / 5
	}
	return n
}

// Widths of the underlying profile, Gaussian (beta 0) and Moffat, on dark and
// bright skies: within 2 %, below 2 px 3 %; round stars stay within 0.015 of
// round.
func TestWidthAccuracy(t *testing.T) {
	t.Parallel()
	for _, fwhm := range []float64{1.5, 3, 6, 12} {
		for _, beta := range []float64{0, 2.5, 5} {
			if fwhm > 5 && beta != 2.5 {
				continue // broad stars are slow to draw, and wide wings the hardest
			}
			side := max(300, int(60*fwhm)) // room for the stars
			for seed := range seeds(5) {
				sky := []float64{20, 20000}[seed%2]
				f, err := Measure(drawn(seed, side, sky, simulated.PSF{Fwhm: fwhm, Beta: beta}).Frame(), side, side, simulated.Quiet())
				if err != nil {
					t.Fatal(err)
				}
				width := 0.02
				if fwhm < 2 {
					width = 0.03
				}
				if !(math.Abs(f.FWHM.V/fwhm-1) <= width) || !(f.Ellipticity.V <= 0.015) {
					t.Errorf("FWHM %g beta %g sky %g seed %d: %.3f ± %.3f of %d stars (%+.1f %%), ellipticity %.3f", fwhm, beta, sky, seed, f.FWHM.V, f.FWHM.Err, f.FWHM.N, 100*(f.FWHM.V/fwhm-1), f.Ellipticity.V)
				}
			}
		}
	}
}

// A trail of length L adds L²/12 to the second moment along it: ellipticity
// within 0.015, angle within 3 degrees where it is 0.1 or more, at any angle, on
// dark and bright skies.
func TestTrailAccuracy(t *testing.T) {
	t.Parallel()
	for _, length := range []float64{0, 1.5, 3, 6, 10} {
		for seed := range seeds(5) {
			sky := []float64{20, 300, 20000}[seed%3]
			angle := -70 + 35*float64(seed) + 3*length
			q := simulated.PSF{Fwhm: 3, Trail: length, TrailAngle: angle}
			s := simulated.NewSim(seed, 300, 300, sky)
			for _, at := range s.Scatter(30, 15+length) {
				s.Trail(at[0], at[1], s.Signal(30*math.Pow(5, s.Rng.Float64()), sky, q), q)
			}
			f := measureSim(t, s)
			sigma := 3 / stars.SigmaToFWHM
			want := 1 - sigma/math.Sqrt(sigma*sigma+length*length/12)
			turned := want >= 0.1 && (math.Abs(math.Remainder(f.Angle.V-angle, 180)) > 3 || f.Coherence.V < 0.95)
			if !(math.Abs(f.Ellipticity.V-want) <= 0.015) || turned {
				t.Errorf("trail %g at %g on %g: ellipticity %v, want %.3f; angle %.1f; coherence %.2f", length, angle, sky, f.Ellipticity, want, f.Angle.V, f.Coherence.V)
			}
		}
	}
}

// All stars at one and the same place within their pixels: neither size nor
// shape may depend on it, at any width.
func TestPlaceInThePixel(t *testing.T) {
	for _, fwhm := range []float64{1.5, 2, 2.5, 3} {
		if testing.Short() && fwhm > 1.5 {
			break // the narrower, the more it matters
		}
		for seed, at := range [][2]float64{{0, 0}, {0.5, 0.5}, {0.5, 0}, {0.25, 0.4}, {-0.1, 0.3}} {
			q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
			s := simulated.NewSim(uint64(seed), 300, 300, 300)
			for _, p := range s.Scatter(50, 16) {
				s.Star(math.Round(p[0])+at[0], math.Round(p[1])+at[1], s.Signal(60, 300, q), q)
			}
			f := measureSim(t, s)
			width := 0.02
			if fwhm < 2 {
				width = 0.03
			}
			if !(math.Abs(f.FWHM.V/fwhm-1) <= width) || !(f.Ellipticity.V <= 0.015) {
				t.Errorf("FWHM %g at %v in the pixel: %v, ellipticity %v at %v", fwhm, at, f.FWHM, f.Ellipticity, f.Angle)
			}
			var dx, dy []float64
			for i := range f.Stars {
				if st := &f.Stars[i]; st.Fitted {
					dx, dy = append(dx, math.Remainder(st.X-at[0], 1)), append(dy, math.Remainder(st.Y-at[1], 1))
				}
			}
			// Fifty stars of 0.03 px each leave 0.005.
			if x, y := stats.Median(dx), stats.Median(dy); !(math.Hypot(x, y) < 0.02) || len(dx) < 40 {
				t.Errorf("FWHM %g at %v in the pixel: off by %.3f, %.3f in the median of %d", fwhm, at, x, y, len(dx))
			}
		}
	}
}
