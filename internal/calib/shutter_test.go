package calib_test

import (
	"math"
	"testing"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
)

// Flats of several exposures tell how long a mechanical shutter travels, and the master
// is made of those that are long for it. What a bent response or a moving sky would do as
// well is not called a shutter; flats of one exposure tell nothing.
func TestShutterTravel(t *testing.T) {
	t.Parallel()
	type flats struct {
		seconds, light float64
		n              int
	}
	lamp := []flats{{0.5, 4000, 4}, {2, 16000, 4}, {6, 48000, 4}} // the master is of those of 6 s alone, by their light
	level := []flats{{0.5, 20000, 4}, {2, 40000, 4}, {6, 20000, 4}}
	two := []flats{{0.5, 4000, 5}, {5, 40000, 5}}
	for _, test := range []struct {
		name    string
		flats   []flats
		shutter float64 // s
		bends   float64 // share of the response at full light
		want    fact.Code
	}{
		{"none", lamp, 0, 0, ""},
		{"20 ms, one lamp", lamp, 0.02, 0, sensor.ShutterTravels},
		{"8 ms", level, 0.008, 0, sensor.ShutterLeftOut},
		{"20 ms", level, 0.02, 0, sensor.ShutterLeftOut},
		{"dimmed lamp", []flats{{0.5, 30000, 5}, {8, 30000, 5}}, 0.02, 0, sensor.ShutterLeftOut},
		{"two levels", two, 0.02, 0, sensor.FlatsOfTwoShapes},
		{"bent", lamp, 0, 0.25, ""},
		{"bent, two levels", two, 0, 0.25, sensor.FlatsOfTwoShapes},
		{"one exposure", []flats{{0.5, 30000, 8}}, 0.02, 0, ""},
	} {
		if testing.Short() && test.want != sensor.ShutterLeftOut && test.bends == 0 {
			continue
		}
		c := plainCamera()
		c.W, c.H, c.Vignette, c.Bend = 256, 192, 0.3, test.bends
		b := newBench(t, c, 71)
		b.bias(6)
		for _, f := range test.flats {
			b.shoot(f.n, habit.Shot{Kind: "Flat", Exposure: f.seconds, Filter: "L", Light: f.light, Shutter: test.shutter})
		}
		s := set(t, b.analyse(), "flat")
		var found fact.Fact
		for _, w := range s.Warnings {
			switch w.Code {
			case sensor.ShutterTravels, sensor.ShutterLeftOut, sensor.FlatsOfTwoShapes:
				found = w
			}
		}
		if found.Code != test.want {
			t.Errorf("%s: %v, want %s", test.name, found, test.want)
			continue
		}
		if test.want == sensor.ShutterTravels || test.want == sensor.ShutterLeftOut {
			// From the middle to the corners; of cells the outer twentieth is left out, and
			// their middles do not reach either: 0.8 of it.
			if v, _ := found.Value("travel_ms"); !(math.Abs(v.Number/1000/(0.8*test.shutter)-1) <= 0.15) {
				t.Errorf("%s: %v, want %.4f s", test.name, found, 0.8*test.shutter)
			}
		}
		if test.want == sensor.ShutterLeftOut { // corner squares an eighth wide have 1 - 0.3*2*0.39 of the light
			agrees(t, s, "corner_falloff_pct", 23, 0.06)
		}
	}
}
