package night

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

// Hot pixels that outnumber the stars neither stay among them nor tie the subs
// to each other: the shifts are those of the dither.
func TestAlignDespiteHotPixels(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	place := func() [2]float64 { return [2]float64{1000 * rng.Float64(), 800 * rng.Float64()} }
	var sky, hot [][2]float64
	for range 40 {
		sky, hot = append(sky, place()), append(hot, place(), place())
	}
	r := &Result{}
	var dithers [][2]float64
	for range 8 {
		dx, dy := 15*rng.NormFloat64(), 15*rng.NormFloat64()
		dithers = append(dithers, [2]float64{dx, dy})
		f := &stars.Field{Width: 1000, Height: 800}
		add := func(x, y, flux float64) {
			f.Stars = append(f.Stars, stars.Star{X: x + 0.1*rng.NormFloat64(), Y: y + 0.1*rng.NormFloat64(), Flux: flux,
				FluxErr: flux / 50, SNR: 50, HFD: math.NaN()})
		}
		for k := range hot { // brightest first, in turns
			add(hot[k][0], hot[k][1], 1e5-1000*float64(k))
			if k < len(sky) {
				add(sky[k][0]+dx, sky[k][1]+dy, 1e5-1000*float64(k)-500)
			}
		}
		f.Count = len(f.Stars)
		r.Subs = append(r.Subs, &Sub{Sub: &subs.Sub{Field: f, Width: 1000, Height: 800}})
	}
	r.align(nil)
	for i, s := range r.Subs {
		if s.Field.Count != len(sky) || len(s.Field.Notes) == 0 {
			t.Errorf("sub %d: %d stars left, want %d; notes %v", i, s.Field.Count, len(sky), s.Field.Notes)
		}
		x, y := s.Align.ShiftX.V-r.Subs[0].Align.ShiftX.V, s.Align.ShiftY.V-r.Subs[0].Align.ShiftY.V
		if math.Hypot(x-dithers[i][0]+dithers[0][0], y-dithers[i][1]+dithers[0][1]) > 0.2 {
			t.Errorf("sub %d: shift %.2f, %.2f against the first, want %.2f, %.2f", i, x, y, dithers[i][0]-dithers[0][0], dithers[i][1]-dithers[0][1])
		}
	}
}
