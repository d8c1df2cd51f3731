package calib_test

import (
	"strings"
	"testing"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/say"
)

// Long flats by bias alone hold dark signal, and the figures that rest on their light say
// so; short ones hold next to none, and darks of their exposure take it off.
func TestDarkSignalInFlatsIsNamed(t *testing.T) {
	t.Parallel()
	for _, of := range []struct {
		seconds float64
		darks   int
		named   bool
	}{{40, 0, true}, {40, 4, false}, {0.5, 0, false}} {
		c := plainCamera()
		c.Dark = 1
		b := newBench(t, c, 851)
		b.bias(8)
		b.shoot(of.darks, habit.Shot{Kind: "Dark", Exposure: of.seconds})
		b.shoot(6, habit.Shot{Kind: "Flat", Exposure: of.seconds, Filter: "L", Light: 25000})
		flat := set(t, b.analyse(), "flat")
		for _, metric := range []string{"prnu_pct", "corner_falloff_pct"} {
			if got := strings.Contains(say.Note(flat.Figure(metric).Note), "dark signal"); got != of.named {
				t.Errorf("%g s, %d darks: %s %q", of.seconds, of.darks, metric, say.Note(flat.Figure(metric).Note))
			}
		}
	}
}
