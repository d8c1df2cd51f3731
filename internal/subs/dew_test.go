package subs

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Thin cloud goes as it came. Where halos are measured too poorly to tell when they turned,
// until they are all but gone, the light tells it.
func TestLightTellsWhenHalosTurn(t *testing.T) {
	const n, middle = 13, 6
	var run []*evidence
	for i := range n {
		far := math.Abs(float64(i-middle)) / middle
		halo := 0.35 - 0.03*far + 0.04*float64(i%2)
		if i == n-1 {
			halo = 0.1
		}
		s := &Sub{Field: &stars.Field{Halo: stats.Known(halo, 0.05, 40)}}
		run = append(run, &evidence{Sub: s, halo: halo, transparency: 0.28 + 0.3*far})
	}
	if turn, ok := turnOf(run); turn != middle || !ok {
		t.Errorf("turns at %d, %v; want %d", turn, ok, middle)
	}
}
