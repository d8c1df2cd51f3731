package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// The transparency of equally clear subs does not follow the width of their stars,
// from 1.2 px, where a star lights hardly more than one pixel or falls between those
// of a mosaic, to 3 px, with the halo of the optics or without: rms 0.01.
func TestTransparencyDoesNotFollowTheWidth(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		beta, halo float64 // halo: share of the light that the optics scatter over 7 px, whatever the seeing
		mosaic     bool
	}{{2.5, 0, false}, {3.5, 0, false}, {0, 0, false}, {3.5, 0.1, false}, {0, 0.15, false}, {3.5, 0.1, true}} {
		if testing.Short() && !c.mosaic {
			continue
		}
		t.Run(fmt.Sprintf("beta %v, halo %v, mosaic %v", c.beta, c.halo, c.mosaic), func(t *testing.T) {
			const w, h, sky = 420, 340, 150
			place := simulated.NewSim(7, w, h, sky)
			at := place.Scatter(110, 13)
			var fields []*stars.Field
			widths := []float64{1.2, 1.4, 1.7, 2, 2.3, 2.6, 3, 1.3, 1.9, 2.8}
			for k, fwhm := range widths {
				s := simulated.NewSim(100+uint64(k), w, h, sky)
				q := simulated.PSF{Fwhm: fwhm, Beta: c.beta}
				dx, dy := 3*s.Rng.NormFloat64(), 3*s.Rng.NormFloat64()
				for i, p := range at {
					flux := 6000 + 150000/float64(i+1)
					s.Star(p[0]+dx, p[1]+dy, flux*(1-c.halo), q)
					s.Spot(p[0]+dx, p[1]+dy, flux*c.halo, 7)
				}
				opt := simulated.Quiet()
				opt.Bayer = c.mosaic
				f, err := Measure(s.Frame(), w, h, opt)
				if err != nil {
					t.Fatal(err)
				}
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			var sum float64
			for k, l := range photometry.Transparencies(fields, al, nil) {
				sum += (l.Ratio.V - 1) * (l.Ratio.V - 1)
				t.Logf("%.1f px: %.2f, transparency %v, beta %.2f", widths[k], fields[k].FWHM.V, l.Ratio, fields[k].Stars[5].Beta)
			}
			if rms := math.Sqrt(sum / float64(len(widths))); !(rms < 0.01) {
				t.Errorf("rms %.4f", rms)
			}
		})
	}
}

// A mosaic shows a dozen stars, the brightest of them as bright as all others: what the
// filter makes of it between the green pixels must not set the light of a sub.
func TestFewNarrowStarsOfAMosaic(t *testing.T) {
	var sum, n float64
	for seed := range seeds(3) {
		const w, h, sky = 220, 180, 150
		place := simulated.NewSim(seed, w, h, sky)
		at := place.Scatter(14, 16)
		var fields []*stars.Field
		for k := range 8 {
			s := simulated.NewSim(50*seed+uint64(k), w, h, sky)
			q := simulated.PSF{Fwhm: 1.72 + 0.1*s.Rng.Float64(), Beta: 4.5}
			for i, p := range at {
				s.Star(p[0]+0.27*float64(k), p[1]+0.13*float64(k), 70000/float64(i*i+i+1)+1500, q)
			}
			opt := simulated.Quiet()
			opt.Bayer = true
			f, err := Measure(s.Frame(), w, h, opt)
			if err != nil {
				t.Fatal(err)
			}
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, l := range photometry.Transparencies(fields, al, nil) {
			sum, n = sum+(l.Ratio.V-1)*(l.Ratio.V-1), n+1
			t.Logf("seed %d, sub %d: %.2f px, transparency %v", seed, k, fields[k].FWHM.V, l.Ratio)
		}
	}
	if rms := math.Sqrt(sum / n); !(rms < 0.015) { // their photons alone make 0.006
		t.Errorf("rms %.4f", rms)
	}
}
