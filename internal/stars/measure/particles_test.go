package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// Tracks of particles, brighter and as many as the stars of a poor field, tell neither
// their width nor their shape, nor what part of their light the filter sees.
func TestParticlesAmongFewStars(t *testing.T) {
	const w, h, sky = 500, 400, 150
	for _, width := range []float64{2.4, 3.2} {
		var scales, widths []float64
		for seed := range uint64(6) {
			s := simulated.NewSim(300+seed, w, h, sky)
			q := simulated.PSF{Fwhm: width, Beta: 3}
			places := s.Scatter(26, 25)
			lights := map[int]float64{}
			for i, at := range places[:18] {
				lights[i] = s.Signal(14+float64(i), sky, q)
				s.Star(at[0], at[1], lights[i], q)
			}
			for _, at := range places[18:] {
				long, turn := 3+4*s.Rng.Float64(), math.Pi*s.Rng.Float64()
				bright := (300 + 2700*s.Rng.Float64()) / long
				for k := 0.0; k < long; k += 0.5 {
					sin, cos := math.Sincos(turn)
					s.E[int(at[1]+k*sin)*w+int(at[0]+k*cos)] += bright
				}
			}
			opt := simulated.Quiet()
			f, err := new(Measurer).Measure(s.Frame(), w, h, opt)
			if err != nil {
				t.Fatal(err)
			}
			var ratios []float64
			for i, light := range lights {
				for _, st := range f.Stars {
					if math.Hypot(st.X-places[i][0], st.Y-places[i][1]) < 1 {
						ratios = append(ratios, st.Flux/light)
					}
				}
			}
			scales, widths = append(scales, stats.Median(ratios)), append(widths, f.FWHM.V)
			if e := f.Ellipticity.V; !(e < 0.15) {
				t.Errorf("FWHM %g, seed %d: ellipticity %v", width, seed, f.Ellipticity)
			}
			// 10 %: some ten stars of a signal to noise of 14 to 31
			if r := scales[seed]; !(math.Abs(r-1) < 0.1) || !(math.Abs(f.FWHM.V/width-1) < 0.1) {
				t.Errorf("FWHM %g, seed %d: %.2f of the light, FWHM %v", width, seed, r, f.FWHM)
			}
		}
		if r := stats.Mean(scales); !(math.Abs(r-1) < 0.04) {
			t.Errorf("FWHM %g: %.3f of the light, widths %.2f", width, r, widths)
		}
	}
}
