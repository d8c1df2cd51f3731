package calib_test

import (
	"math"
	"testing"

	"fitsqa/internal/demo/habit"
)

// Darks whose offset lies above the bias frames': lowered to it where the subs' noise tells
// that theirs is the bias's, as they are where it is the darks', or the camera levels its
// frames, or the subs are too dim to tell.
func TestDarksOfAnotherOffset(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		bias   float64 // ADU, offset of bias frames above the subs'
		darks  float64
		shaded bool
		want   float64 // ADU, lowered by
	}{
		{"darks off", 0, 80, false, 80},
		{"darks of another camera", 0, 700, false, 700},
		{"bias off", -80, 0, false, 0},
		{"all of one", 0, 0, false, 0},
		{"levelled in the camera", 0, 0, true, 0},
		{"hardly off", 0, 8, false, 0},
	} {
		if testing.Short() && (test.darks > 80 || test.bias == 0 && test.darks == 0) {
			continue
		}
		c := plainCamera()
		c.W, c.H, c.Shaded = 256, 192, test.shaded
		b := newBench(t, c, 95)
		own := b.Offset
		b.Offset = own + test.bias
		b.bias(6)
		b.flats(4, 25000)
		b.Offset = own + test.darks
		b.darks(6, 100, 0)
		b.Offset = own
		b.shoot(2, habit.Shot{Kind: "Light", Exposure: 100, Filter: "L", Light: 250, Stars: 30})
		r := b.analyse()
		k := r.For(r.Coverage[0].Lights)
		if !k.DarkTaken || !(math.Abs(k.OffsetMoved-test.want) <= max(3, 0.05*test.want)) {
			t.Errorf("%s: lowered by %.1f ADU, want %.0f", test.name, k.OffsetMoved, test.want)
		}
		level := own + c.Dark*100/c.Gain
		if test.shaded {
			level = own
		}
		taken := float64(k.Planes().Subtract.Pixels()[100]) - level
		if off := math.Abs(taken); off > 6 && test.want > 0 {
			t.Errorf("%s: %.1f ADU off", test.name, off)
		}
	}
}
