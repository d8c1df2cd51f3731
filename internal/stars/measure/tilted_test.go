package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// A tilted field has stars of two widths, and few bright ones to tell the scale of the
// faint ones' light: that of one side must not be taken for that of the other, nor go up
// and down with which of the bright ones are in the middle of all. Nor are the wide ones
// several stars, or knots of a nebula: the field has a width.
func TestFaintLightWhereTheFieldIsTilted(t *testing.T) {
	t.Parallel()
	// As far as stars of one width tell it (0.03), and 0.1 where they grow so wide at one side
	// that the filter fits neither half: 0.17 without telling the sides apart.
	for _, c := range []struct{ slope, bright, most float64 }{{0, 60, 0.03}, {0.3, 60, 0.03}, {0.7, 60, 0.03}, {1, 30, 0.07}, {1.2, 60, 0.1}, {1.7, 60, 0.1}} {
		if testing.Short() && c.slope < 1 {
			continue
		}
		var whole, sides []float64
		without := 0
		for seed := range uint64(6) {
			left, right, common := faintLight(t, seed, c.slope, c.bright)
			if !common {
				without++
			}
			whole, sides = append(whole, (left+right)/2), append(sides, left-right)
		}
		// Twenty bright stars may not tell a slope by chance.
		if without > 1 {
			t.Errorf("slope of %.1f: %d of 6 fields without a width in common", c.slope, without)
		}
		mean, scatter := stats.Mean(whole), stats.MADSigma(whole)
		name := fmt.Sprintf("widths from 2.4 to %.1f px, bright ones of %.0f sigma", 2.4*(1+c.slope), c.bright)
		t.Logf("%s: light %.3f, scatter %.3f, sides %.3f", name, mean, scatter, stats.Median(sides))
		if !(math.Abs(mean-1) <= c.most) || scatter > c.most || !(math.Abs(stats.Median(sides)) <= 2*c.most) {
			t.Errorf("%s: %.3f of the faint stars' light, scatter %.3f, left less right %.3f", name, mean, scatter, stats.Median(sides))
		}
	}
}

// faintLight is the light of the faint stars over the truth in either half of a field whose
// stars are so much wider at its right side than at its left, and whether it has a width
// about that in its middle.
func faintLight(t *testing.T, seed uint64, slope, bright float64) (left, right float64, common bool) {
	const w, h, sky = 620, 460, 400
	s := simulated.NewSim(seed+31, w, h, sky)
	places := s.Scatter(60, 30)
	truth := make([]float64, len(places))
	for i, at := range places {
		q := simulated.PSF{Fwhm: 2.4 * (1 + slope*at[0]/w), Beta: 3.5}
		snr := 25.
		if i < 12 { // the bright ones
			snr = bright * math.Exp2(2*s.Rng.Float64())
		}
		truth[i] = s.Signal(snr, sky, q)
		s.Star(at[0], at[1], truth[i], q)
	}
	var ms Measurer
	f, err := ms.Measure(s.Frame(), w, h, simulated.Quiet())
	if err != nil {
		t.Fatal(err)
	}
	middle := 2.4 * (1 + slope/2)
	common = f.FWHM.OK() && math.Abs(f.FWHM.V/middle-1) < 0.1+0.1*slope && f.FWHM.N >= 8
	var part [2][]float64
	for i, at := range places[12:] {
		for _, st := range f.Stars {
			if math.Hypot(st.X-at[0], st.Y-at[1]) < 2 {
				half := min(int(2*at[0]/w), 1)
				part[half] = append(part[half], st.Flux/truth[12+i])
			}
		}
	}
	return stats.Median(part[0]), stats.Median(part[1]), common
}
