package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Transparencies of dithered, flipped and clouded views against truth: 0.02 is
// the bar of the accuracy table, from 1 down to 0.15.
func TestTransparencies(t *testing.T) {
	for seed := range simulated.Draws(5) {
		rng := rand.New(rand.NewPCG(seed, 6))
		const w, h = 1200, 900
		sky := simulated.NewSky(rng, 1500, 60, w, h)
		truth := []float64{1, 1, 0.99, 0.9, 0.8, 0.6, 0.4, 0.25, 0.15, 0.85, 1, 0.7, 0.5, 0.33}
		var fields []*stars.Field
		for i, v := range truth {
			turn := 0.0
			if i > 8 {
				turn = 180
			}
			fields = append(fields, sky.View(rng, w, h, 30*rng.NormFloat64(), 30*rng.NormFloat64(), turn, v, false, simulated.All))
		}
		// A variable star, brighter in the second half, and one that saturates.
		al, _ := registration.Align(fields)
		for i, tr := range Transparencies(fields, al, nil) {
			if !tr.Ratio.OK() || !(math.Abs(tr.Ratio.V-truth[i]) <= 0.02) {
				t.Errorf("seed %d field %d: transparency %.3f (%v), want %.3f", seed, i, tr.Ratio.V, tr.Ratio.Why, truth[i])
			}
			if tr.Unevenness.OK() && tr.Unevenness.V > 3 {
				t.Errorf("seed %d field %d: unevenness %.1f %% of an even field", seed, i, tr.Unevenness.V)
			}
		}
	}
}

// Half of the frame behind thick cloud: the light that reaches the frame is
// half, and it is uneven.
func TestTransparencyHalfHidden(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 7))
	const w, h = 1200, 900
	sky := simulated.NewSky(rng, 1500, 60, w, h)
	var fields []*stars.Field
	for range 6 {
		fields = append(fields, sky.View(rng, w, h, 10*rng.NormFloat64(), 0, 0, 1, false, simulated.All))
	}
	fields = append(fields, sky.View(rng, w, h, 5, 0, 0, 1, false, func(x, y float64) bool { return x < w/2 }))
	al, _ := registration.Align(fields)
	tr := Transparencies(fields, al, nil)
	got := tr[6]
	// Patches of a quarter of the side decide what is hidden: 0.5 +- 0.05.
	if !(math.Abs(got.Ratio.V-0.5) <= 0.05) || !(got.Unevenness.V > 30) {
		t.Errorf("half hidden: ratio %.3f, unevenness %.1f", got.Ratio.V, got.Unevenness.V)
	}
}
