package calib_test

import (
	"testing"

	"fitsqa/internal/demo/habit"
)

// Cameras whose headers tell no temperature have their offset taken off flats by darks where
// there is no bias, as others have: the level of long ones, or darks of the flats' exposure.
func TestFlatsByDarksOfUnknownTemperature(t *testing.T) {
	t.Parallel()
	for _, seconds := range []float64{120, 2} { // that of the flats is 2
		c := plainCamera()
		c.Silent = []string{"CCD-TEMP", "SET-TEMP"}
		b := newBench(t, c, 830)
		b.shoot(6, habit.Shot{Kind: "Dark", Exposure: seconds})
		b.flats(8, 25000)
		r := b.analyse()
		flat := set(t, r, "flat")
		agrees(t, flat, "gain_e_per_adu", c.Gain, 0.01) // known to 0.4 % by eight flats of 46 000 pixels
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.03)
	}
}
