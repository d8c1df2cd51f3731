package stars

import (
	"math"
	"testing"
)

// Light lost from 1.0 down to 0.15, through the whole measurement: drawn stars of
// Moffat profile under other seeing, sky and pointing in every sub are found,
// fitted, matched and compared. Within 0.02 of truth.
func TestTransparencyOfDrawnSubs(t *testing.T) {
	ratios := []float64{1, 1, 1, 0.85, 0.7, 0.55, 0.4, 0.25, 0.15}
	for seed := range uint64(5) {
		const side, reference = 360, 300
		first := newSim(seed, side, side, reference)
		at := first.scatter(45, 22)
		var fields []*Field
		for k, ratio := range ratios {
			s := newSim(50*seed+uint64(k), side, side, reference*(2-ratio)) // cloud is lit from below
			q := psf{fwhm: 2.7 + 0.9*s.rng.Float64(), beta: 3}
			dx, dy := 16*(s.rng.Float64()-0.5), 16*(s.rng.Float64()-0.5)
			for i, p := range at {
				// From 600 to 20 in the clear: the bright third decides in cloud.
				snr := 600 / math.Pow(30, float64(i)/float64(len(at)))
				s.star(p[0]+dx, p[1]+dy, ratio*s.signal(snr, reference, psf{fwhm: 3}), q)
			}
			fields = append(fields, measureSim(t, s))
		}
		al, _ := Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			if !(math.Abs(got.Ratio.V-ratios[k]) <= 0.02) {
				t.Errorf("seed %d: transparency %v, want %.2f", seed, got.Ratio, ratios[k])
			}
		}
	}
}
