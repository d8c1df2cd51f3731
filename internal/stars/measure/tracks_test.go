package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Tracks of particles do not set the width where they outnumber the stars, nor where these are
// so broad that hardly one of them stands out in single pixels: long focal lengths, short
// exposures.
func TestTracksDoNotSetTheWidthOfBroadStars(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		fwhm          float64
		stars, tracks int
		energy        float64 // of the least, electrons
	}{{3.4, 16, 70, 5000}, {6, 28, 8, 1500}, {8.5, 28, 12, 1500}, {11, 28, 10, 1500}} {
		for _, mosaic := range []bool{false, true} {
			bad := 0
			for seed := range seeds(5) {
				const w, h, sky = 440, 360, 70
				s := simulated.NewSim(seed+900, w, h, sky)
				q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
				at := s.Scatter(c.stars, 2*c.fwhm)
				for i, p := range at {
					s.Star(p[0], p[1], 1.4*s.Signal(10+25*float64(i)/float64(len(at)), sky, q), q)
				}
				for range c.tracks {
					x, y, turn, length := s.Rng.Float64()*w, s.Rng.Float64()*h, 2*math.Pi*s.Rng.Float64(), 2+4*s.Rng.ExpFloat64()
					energy := c.energy * (1 + 4*s.Rng.Float64())
					for k := range int(2 * length) {
						px, py := int(x+math.Cos(turn)*float64(k)/2), int(y+math.Sin(turn)*float64(k)/2)
						if px >= 0 && py >= 0 && px < w && py < h {
							s.E[py*w+px] += energy / length / 2
						}
					}
				}
				opt := simulated.Quiet()
				opt.Bayer = mosaic
				f, err := Measure(s.Frame(), w, h, opt)
				if err != nil {
					t.Fatal(err)
				}
				hit, _ := found(f, at, 0.4*c.fwhm)
				t.Logf("%v px, %d tracks, mosaic %v: FWHM %.2f ± %.2f of %d, %d stars of %d", c.fwhm, c.tracks, mosaic, f.FWHM.V, f.FWHM.Err, f.FWHM.N, hit, len(at))
				if !(math.Abs(f.FWHM.V-c.fwhm) < max(0.1*c.fwhm, 3*f.FWHM.Err)) || f.FWHM.Err > 0.3*c.fwhm || 2*hit < len(at) {
					bad++
				}
			}
			if bad > 0 {
				t.Errorf("%v px, %d tracks, mosaic %v: the width or half of the stars are missed in %d of %d", c.fwhm, c.tracks, mosaic, bad, seeds(5))
			}
		}
	}
}

// The lines and lamps of a plane do not set the width of a dozen faint stars beside them.
func TestPlaneDoesNotSetTheWidthOfAFewStars(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ fwhm, line, lamp float64 }{{2.4, 150, 1500}, {2.4, 300, 3000}, {2.4, 500, 4000}} {
		for seed := range seeds(5) {
			const w, h, sky = 520, 420, 300
			s := simulated.NewSim(seed+70, w, h, sky)
			at := s.Scatter(14, 30)
			q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
			for i, p := range at {
				s.Star(p[0], p[1], s.Signal(10+20*float64(i)/float64(len(at)), sky, q), q)
			}
			slope := 0.6 * (s.Rng.Float64() - 0.5)
			for i := range s.E {
				x, y := float64(i%w), float64(i/w)
				away := (y - h/2 - slope*(x-w/2)) / math.Hypot(1, slope)
				for _, side := range []float64{away - 14, away + 14} {
					s.E[i] += c.line * math.Exp(-side*side/8)
				}
				if math.Mod(x, 90) < 6 {
					s.E[i] += c.lamp * math.Exp(-away*away/12.5)
				}
			}
			f, err := Measure(s.Frame(), w, h, simulated.Quiet())
			if err != nil {
				t.Fatal(err)
			}
			hit, _ := found(f, at, 1.5)
			t.Logf("%v px, lines of %v: FWHM %.2f ± %.2f of %d, %d stars of %d, %d tracks", c.fwhm, c.line, f.FWHM.V, f.FWHM.Err, f.FWHM.N, hit, len(at), len(f.Streaks))
			if !(math.Abs(f.FWHM.V-c.fwhm) < max(0.15*c.fwhm, 2*f.FWHM.Err)) || f.FWHM.Err > 0.2*c.fwhm || 2*hit < len(at) {
				t.Errorf("%v px, lines of %v: FWHM %v, %d stars of %d", c.fwhm, c.line, f.FWHM, hit, len(at))
			}
		}
	}
}

// Tracks of particles among hundreds of stars whose width changes over the field do not
// take most of these for sharp points beside knots.
func TestTracksDoNotDiscardStarsOfManyWidths(t *testing.T) {
	t.Parallel()
	bad := 0
	for seed := range seeds(24) {
		const w, h, sky, n = 620, 460, 400, 300
		s := simulated.NewSim(seed+1200, w, h, sky)
		middle := simulated.PSF{Fwhm: 3.2, Beta: 3.5}
		bright := 0
		for range n {
			x, y := s.Rng.Float64()*w, s.Rng.Float64()*h
			snr := 9 / math.Pow(s.Rng.Float64(), 0.9)
			if snr > 20 {
				bright++
			}
			s.Star(x, y, s.Signal(min(snr, 800), sky, middle), simulated.PSF{Fwhm: 2.4 + 1.7*x/w, Beta: 3.5})
		}
		for range 30 {
			x, y, turn, length := s.Rng.Float64()*w, s.Rng.Float64()*h, 2*math.Pi*s.Rng.Float64(), 1+9*s.Rng.Float64()
			energy := 500 + 3000*s.Rng.Float64()
			for k := range int(2 * length) {
				px, py := int(x+math.Cos(turn)*float64(k)/2), int(y+math.Sin(turn)*float64(k)/2)
				if px >= 0 && py >= 0 && px < w && py < h {
					s.E[py*w+px] += energy / 2
				}
			}
		}
		f, err := Measure(s.Frame(), w, h, simulated.Quiet())
		if err != nil {
			t.Fatal(err)
		}
		if !(f.FWHM.V > 2.6 && f.FWHM.V < 3.9) || f.Count < bright {
			bad++
			t.Logf("seed %d: FWHM %.2f ± %.2f of %d, %d stars, %d bright", seed, f.FWHM.V, f.FWHM.Err, f.FWHM.N, f.Count, bright)
		}
	}
	if bad > 0 {
		t.Errorf("the width or the stars are missed in %d of %d", bad, seeds(24))
	}
}
