package calib_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/calib"
	"fitsqa/internal/demo/habit"
	"fitsqa/internal/fact"
)

// What a bias or a dark leaves of the dark current in subs of a sensor that warmed over
// the night is that of each sub's own temperature (Arrhenius): by the law of two sets of
// darks, and, where one set alone tells it, by the usual doubling within its error, over no
// more than the °C of one.
func TestDarkCurrentLeftInWarmSubs(t *testing.T) {
	t.Parallel()
	for _, sets := range [][]float64{{-10, 0}, {-10}} {
		c := plainCamera()
		c.W, c.H, c.Dark = 200, 160, 0.6
		b := newBench(t, c, 700)
		b.bias(8)
		b.flats(4, 25000)
		for _, at := range sets {
			b.darks(6, 120, at)
		}
		usual := []float64{-10, -8, -3, 4} // temperatures of the subs, each of a target of its own
		target := func(warm float64) string { return fmt.Sprintf("at %g", warm) }
		for _, warm := range usual {
			b.shoot(3, habit.Shot{Kind: "Light", Exposure: 120, SetC: warm, OffC: -2, DriftC: 2, Light: 300, Filter: "L",
				Cards: []fitsio.Card{{Name: "OBJECT", Value: target(warm)}}})
		}
		r := b.analyse()
		for _, warm := range usual {
			of := slices.IndexFunc(r.Coverage, func(c calib.Coverage) bool { return string(c.Lights.Target) == target(warm) })
			got := r.For(r.Coverage[of].Lights)
			if known := len(sets) > 1 || warm <= sets[0]+6; got.DarkRate.OK() != known {
				t.Fatalf("darks at %v °C, subs at %g °C: dark current %v", sets, warm, got.DarkRate)
			}
			if carried := len(sets) == 1 && warm == -8; got.Warmth.Carried != carried {
				t.Fatalf("darks at %v °C, subs at %g °C: carried: %v", sets, warm, got.Warmth.Carried)
			}
			if taken := warm == -10; got.DarkTaken != taken {
				t.Fatalf("darks at %v °C, subs at %g °C: dark taken: %v", sets, warm, got.DarkTaken)
			}
			for _, at := range []float64{warm - 2, warm, warm + 2} {
				left := got.DarkLeft(at)
				if !got.DarkRate.OK() {
					if left.OK() {
						t.Errorf("darks at %v °C: %v left at %g °C", sets, left, at)
					}
					continue
				}
				truth := dark(c, at)
				if got.DarkTaken {
					truth -= dark(c, warm)
				}
				// The rates are known to 3 % and 0.002 e-/s of wander in the offset.
				if off := math.Abs(left.V - truth); off > 0.005+0.05*dark(c, at) || off > 4*left.Err+0.002 {
					t.Errorf("darks at %v °C, subs about %g °C: %.4f ± %.4f e-/s left at %g °C, truth %.4f", sets, warm, left.V, left.Err, at, truth)
				}
			}
		}
	}
}

// A calibration without a dark current leaves an unknown one.
func TestDarkLeftUnknown(t *testing.T) {
	c := calib.Calibration{}
	c.DarkRate.V, c.DarkRate.Why = math.NaN(), fact.Of("no darks")
	if v := c.DarkLeft(3); v.OK() || v.Why.Code != "no darks" {
		t.Errorf("%v", v)
	}
}
