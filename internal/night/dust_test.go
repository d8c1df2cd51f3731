package night_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
)

// A whole night whose filters moved between flats and subs, and one whose did
// not. The grain on the sensor's window stays where it is.
func TestDustOfANight(t *testing.T) {
	if testing.Short() {
		t.Skip("two nights and three runs; package dust tests the comparison")
	}
	t.Parallel()
	sc, _ := demo.ScenarioNamed("clear")
	sc.Darks, sc.Bias = nil, 4 // darks tell nothing of dust
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 10}}
	sc.Targets[0].Nebula = false
	still := analyse(t, sc).result
	if len(still.Dust) != 1 {
		t.Fatalf("%d groups of subs", len(still.Dust))
	}
	if d := still.Dust[0]; d.Bad() || d.Told < 3 {
		t.Errorf("dust in place: %d told, %v", d.Told, d.Found)
	}

	sc.FlatShift = [2]float64{-15, 4}
	s := night.DefaultSettings()
	var err error
	if s.Cache, err = cache.Open(t.TempDir()); err != nil {
		t.Fatal(err)
	}
	moved := analyseWith(t, sc, s).result
	d := moved.Dust[0]
	n := 0
	for _, m := range d.Shadows {
		if m.State == dust.ShadowMoved {
			n++
		}
	}
	// Flats lay at -15, +4 of the subs: what moved went the other way. Within two
	// pixels, two thirds of a cell of the small picture.
	if n < 3 || d.Wrong == len(d.Shadows) || !(math.Abs(d.ShiftX.V-15) <= 2) || !(math.Abs(d.ShiftY.V+4) <= 2) {
		t.Errorf("%d moved by %+v, %+v: %v", n, d.ShiftX, d.ShiftY, d.Found)
		for _, m := range d.Shadows {
			t.Logf("%+v", m)
		}
	}
	// What is remembered of calibration and subs is enough to tell the same.
	again, err := night.Run(context.Background(), moved.Roots, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := fmt.Sprintf("%+v", again.Dust), fmt.Sprintf("%+v", moved.Dust); got != want {
		t.Errorf("from the cache: %s, measured: %s", got, want)
	}
	if !strings.Contains(fmt.Sprint(moved.Warnings), "dust_moved(flat=flat L") {
		t.Errorf("no warning of the night: %v", moved.Warnings)
	}
	for _, s := range moved.Calib.Sets {
		if s.Kind == "flat" && !fact.Has(s.Warnings, sensor.DustUnmatched) {
			t.Errorf("no warning of the set: %v", s.Warnings)
		}
	}
}
