package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Light lost from 1.0 down to 0.15, through the whole measurement: drawn stars of
// Moffat profile under other seeing, sky and pointing in every sub are found,
// fitted, matched and compared. Within 0.02 of truth.
func TestTransparencyOfDrawnSubs(t *testing.T) {
	ratios := []float64{1, 1, 1, 0.85, 0.7, 0.55, 0.4, 0.25, 0.15}
	for seed := range seeds(5) {
		const side, reference = 360, 300
		first := simulated.NewSim(seed, side, side, reference)
		at := first.Scatter(45, 22)
		var fields []*stars.Field
		for k, ratio := range ratios {
			s := simulated.NewSim(50*seed+uint64(k), side, side, reference*(2-ratio)) // cloud is lit from below
			q := simulated.PSF{Fwhm: 2.7 + 0.9*s.Rng.Float64(), Beta: 3}
			dx, dy := 16*(s.Rng.Float64()-0.5), 16*(s.Rng.Float64()-0.5)
			for i, p := range at {
				// From 600 to 20 in the clear: the bright third decides in cloud.
				snr := 600 / math.Pow(30, float64(i)/float64(len(at)))
				s.Star(p[0]+dx, p[1]+dy, ratio*s.Signal(snr, reference, simulated.PSF{Fwhm: 3}), q)
			}
			fields = append(fields, measureSim(t, s))
		}
		al, _ := registration.Align(fields)
		for k, got := range photometry.Transparencies(fields, al, nil) {
			if !(math.Abs(got.Ratio.V-ratios[k]) <= 0.02) {
				t.Errorf("seed %d: transparency %v, want %.2f", seed, got.Ratio, ratios[k])
			}
		}
	}
}

// In a crowded field under bad seeing, stars that stand apart in sharp subs are one:
// neither are those gone nor the others brighter, and no cloud is seen.
func TestNoCloudInBlurredCrowd(t *testing.T) {
	t.Parallel()
	for seed := range seeds(5) {
		const side, sky = 500, 300
		first := simulated.NewSim(seed, side, side, 0)
		type light struct{ x, y, flux float64 }
		var lights []light
		for range 1800 {
			lights = append(lights, light{first.Rng.Float64() * side, first.Rng.Float64() * side, 1500 / math.Pow(1-first.Rng.Float64(), 0.9)})
		}
		var fields []*stars.Field
		for k, fwhm := range []float64{3, 3.2, 2.8, 3.1, 6.5} {
			s := simulated.NewSim(50*seed+uint64(k), side, side, sky)
			dx, dy := 10*(s.Rng.Float64()-0.5), 10*(s.Rng.Float64()-0.5)
			for _, l := range lights {
				s.Spot(l.x+dx, l.y+dy, l.flux, fwhm)
			}
			fields = append(fields, measureSim(t, s))
		}
		al, _ := registration.Align(fields)
		got := photometry.Transparencies(fields, al, nil)[4]
		// What a star of 6.5 px holds of undetected neighbours, of which there is one
		// to every 140 px, adds 2 to 4 % to the light of the brighter ones; 6 % of
		// unevenness make a sub doubtful.
		if !(math.Abs(got.Ratio.V-1) < 0.06) || got.Unevenness.V-2*got.Unevenness.Err > 4 {
			t.Errorf("seed %d: transparency %v, unevenness %v", seed, got.Ratio, got.Unevenness)
		}
	}
}
