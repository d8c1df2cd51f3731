package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// Clear subs of a field of 25 faint stars come out equally clear to twice what the stars'
// photons and the sky's allow, in changing seeing: sums of pixels, which bring the filter's
// answers to scale in each sub by itself, leave four times that.
func TestTransparencyOfFewFaintStars(t *testing.T) {
	t.Parallel()
	const side, sky, n, subs = 500, 400, 25, 14
	place := simulated.NewSim(77, side, side, 0)
	at := make([][3]float64, n)
	for i := range at {
		at[i] = [3]float64{20 + 460*place.Rng.Float64(), 20 + 460*place.Rng.Float64(), 900 / math.Pow(1-0.98*place.Rng.Float64(), 0.7)}
	}
	var fields []*stars.Field
	for k := range subs {
		s := simulated.NewSim(500+uint64(k), side, side, sky)
		dx, dy, fwhm := 10*(s.Rng.Float64()-0.5), 10*(s.Rng.Float64()-0.5), 2.8*math.Exp(0.04*s.Rng.NormFloat64())
		for _, l := range at {
			s.Spot(l[0]+dx, l[1]+dy, l[2], fwhm)
		}
		fields = append(fields, measureSim(t, s))
	}
	var inform float64 // of ln light of all stars: their squared signal to noise under a filter
	for _, l := range at {
		inform += l[2] * l[2] / (l[2] + sky*4*math.Pi*2.8*2.8/stars.SigmaToFWHM/stars.SigmaToFWHM)
	}
	al, _ := registration.Align(fields)
	var light []float64
	for _, l := range photometry.Transparencies(fields, al, nil) {
		light = append(light, l.Ratio.V)
	}
	if rms, least := math.Sqrt(stats.Variance(light)), 1/math.Sqrt(inform); !(rms < 2*least) {
		t.Errorf("scatter %.4f, noise allows %.4f: %.3f", rms, least, light)
	} else {
		t.Logf("scatter %.4f, noise allows %.4f", rms, least)
	}
}

// Fluxes of stars hardly wider than a pixel are no answers of the filter: their profile
// tells nothing of how these are brought to scale.
func TestScaleOfNarrowStars(t *testing.T) {
	t.Parallel()
	for fwhm, told := range map[float64]bool{0.9: false, 3: true} {
		s := simulated.NewSim(9, 300, 300, 100)
		for k := range 36 {
			s.Spot(25+50*float64(k%6)+s.Rng.Float64(), 25+50*float64(k/6)+s.Rng.Float64(), 3000, fwhm)
		}
		if f := measureSim(t, s); f.Scale.Exponent.N > 0 != told {
			t.Errorf("stars of %g px: %+v", fwhm, f.Scale)
		}
	}
}
