package calib_test

import (
	"math"
	"testing"

	"fitsqa/internal/demo/habit"
)

// Light that leaks evenly into darks does not grow with temperature: a law of dark current
// drawn through it is withheld and warned of where light is most of what darks gather, and one
// through dark current alone never is.
func TestDarksThatHardlyGrow(t *testing.T) {
	t.Parallel()
	for _, leak := range []float64{0, 0.1, 1} { // e-/s
		c := plainCamera()
		c.Vignette, c.PRNU = 0, 0
		b := newBench(t, c, 840)
		b.bias(10)
		b.flats(6, 25000)
		for _, celsius := range []float64{-10, 5} {
			b.shoot(8, habit.Shot{Kind: "Dark", Exposure: 120, SetC: celsius, Light: 120 * leak})
		}
		camera := set(t, b.analyse(), "camera")
		if leak == 0 {
			v := camera.Figure("dark_doubling_c").Value
			if !(math.Abs(v.V-c.DoublingAt(-2.5)) <= 3*v.Err) || len(camera.Warnings) > 0 {
				t.Errorf("doubles every %v °C, truth %v: %v", v, c.DoublingAt(-2.5), camera.Warnings)
			}
			continue
		}
		withheld(t, camera, "dark_doubling_c", "light")
		withheld(t, camera, "dark_current_0c_e_per_s", "")
		warns(t, camera, "light leaks in", "leave these darks out")
	}
}

// Darks of a colour mosaic that differ by colour saw light, and nothing is told by them;
// dark current has no colour, however much there is of it, nor have offsets that differ.
func TestDarksThatSawColouredLight(t *testing.T) {
	t.Parallel()
	for _, of := range []struct{ light, dark float64 }{{0, 0.002}, {0, 0.05}, {0, 2}, {12, 0.02}, {60, 0.02}, {600, 0.5}} { // e-, e-/s
		c := plainCamera()
		c.Dark, c.Colours = of.dark, [4]float64{0.5, 1, 1, 0.7}
		b := newBench(t, c, 841)
		b.bias(10)
		b.flats(6, 25000)
		b.shoot(8, habit.Shot{Kind: "Dark", Exposure: 120, Light: of.light})
		dark := set(t, b.analyse(), "dark")
		if of.light > 0 {
			withheld(t, dark, "dark_current_e_per_s", "light got in")
		} else if !dark.Measured {
			t.Errorf("%g e-/s of dark current: nothing measured: %v", of.dark, dark.Figure("dark_current_e_per_s").Value.Why)
		}
	}
}
