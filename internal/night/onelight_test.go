package night

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/subs"
)

// Two subs of a night are shot at a gain of three times the ADU for the same light. Where
// the header knows no e-/ADU, or the same for both settings, that is no light lost in all
// the others; where it knows them, all are on one scale.
func TestGainSettingsOfUnknownGain(t *testing.T) {
	const w, h, times = 700, 500, 3
	for name, electrons := range map[string][2]float64{"none": {math.NaN(), math.NaN()}, "the same": {0.8, 0.8}, "known": {0.8, 0.8 / times}} {
		rng := rand.New(rand.NewPCG(3, 8))
		sky := simulated.NewSky(rng, 60, 0, w, h)
		r := &Result{}
		for k := range 12 {
			f := sky.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, simulated.All)
			high, clear := k == 4 || k == 9, 1.0
			if k == 7 {
				clear = 0.6
			}
			s := &subs.Sub{Field: f, Width: w, Height: h, Exposure: 60, GainSetting: 100, ElectronsPerADU: electrons[0]}
			if high {
				s.GainSetting, s.ElectronsPerADU = 200, electrons[1]
				clear = times
			}
			f.Stars = append([]stars.Star{}, f.Stars...)
			for i := range f.Stars {
				f.Stars[i].Flux *= clear
				f.Stars[i].FluxErr *= clear
			}
			r.Subs = append(r.Subs, &Sub{Sub: s})
		}
		r.align(nil)
		for k, s := range r.Subs {
			want := 1.0
			if k == 7 {
				want = 0.6
			}
			if got := s.Transparency.Ratio; !(math.Abs(got.V-want) < 0.03) { // 60 stars of one in thirty each, and a floor of 2 %
				t.Errorf("e-/ADU %s, sub %d at gain %g: transparency %.3f ± %.3f, want %g", name, k, s.GainSetting, got.V, got.Err, want)
			}
		}
	}
}
