package calib

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// The two cameras of the accuracy table: 12-bit samples scaled to 16 bits, and
// 16 true bits.
func model12() simCamera {
	return simCamera{w: 320, h: 256, gain: 0.25, step: 16, offset: 803.7, read: 3.5, pattern: 3, prnu: 0.008,
		dark: 0.02, doubling: 6, warm: 0.004, hotShare: 0.004, hotMin: 0.5, fullWell: 15500, vignette: 0.3}
}

func model16() simCamera {
	return simCamera{w: 320, h: 256, gain: 0.8, step: 1, offset: 1000.4, read: 1.6, pattern: 0.7, prnu: 0.006,
		dark: 0.004, doubling: 6.5, warm: 0.0006, hotShare: 0.002, hotMin: 0.2, fullWell: 50000, vignette: 0.2}
}

// Accuracy to reach, from the design's table: offset 0.05 ADU, read noise and
// gain 1 %, dark current 3 %, doubling temperature 0.3 °C, hot pixels 97 %
// found and 1 % false. A bias that half of the cameras show is seen by three with a
// chance of 7 in 8; how figures scatter is TestStatedErrors' to tell.
func TestAccuracy(t *testing.T) {
	t.Parallel()
	for name, model := range map[string]func() simCamera{"12 bit": model12, "16 bit": model16} {
		for seed := range uint64(3) {
			if testing.Short() && seed > 0 {
				break
			}
			t.Run(fmt.Sprintf("%s seed %d", name, seed), func(t *testing.T) {
				t.Parallel()
				c := model()
				c.init(seed)
				c.frames(12, frames.Bias, 0, 0, 0)
				for _, celsius := range []float64{-5, 0, 8} {
					for range 6 {
						c.frame(frames.Dark, 300, celsius, 0)
						c.hits(40)
					}
				}
				top := min(c.fullWell, 65536*c.gain)
				for _, level := range []float64{0.2, 0.4, 0.55} {
					c.frames(2, frames.Flat, 10*level, 0, level*top)
				}
				r := c.analyse(t)
				checkAccuracy(t, r, &c)
			})
		}
	}
}

func checkAccuracy(t *testing.T, r *Result, c *simCamera) {
	bias := r.kind("bias")[0]
	within(t, bias, "offset_adu", c.offset, 0.05)
	within(t, bias, "read_noise_adu", c.read/c.gain, 0.01*c.read/c.gain)
	within(t, bias, "read_noise_e", c.read, 0.015*c.read) // read noise and gain each to 1 %
	within(t, bias, "sample_step_adu", c.step, 0)
	within(t, bias, "outlier_frames", 0, 0)
	camera := r.kind("camera")[0]
	within(t, camera, "gain_e_per_adu", c.gain, 0.01*c.gain)
	within(t, camera, "dark_doubling_c", c.doubling*math.Pow((273.15+1.5)/273.15, 2), 0.3) // at the middle of -5 to 8 °C
	for _, celsius := range []float64{-5, 0, 8} {
		d := r.setAt(t, 300, celsius)
		want := c.dark * c.warmer(celsius)
		// 3 % of the current and 1 % of the gain that turns it into electrons.
		within(t, d, "dark_current_e_per_s", want, 0.04*want)
		within(t, d, "dark_current_adu_per_s", want/c.gain, 0.03*want/c.gain)
		checkHot(t, d, c, celsius)
	}
}

// checkHot compares the list with the pixels whose true rate stands above the
// threshold. Those within a tenth of the threshold are either.
func checkHot(t *testing.T, d *sensor.Set, c *simCamera, celsius float64) {
	limit := d.Figure("hot_threshold_e_per_s").Value.V
	listed := map[int]bool{}
	for _, h := range d.Dark.Hot {
		listed[h.Y*c.w+h.X] = true
	}
	warmer := c.warmer(celsius)
	truth, found, wrong := 0, 0, 0
	for i, rate := range c.rate {
		above := (rate - c.dark) * warmer
		switch {
		case above > 1.1*limit:
			truth++
			if listed[i] {
				found++
			}
		case above < 0.9*limit && listed[i]:
			wrong++
		}
	}
	if truth < 50 {
		t.Fatalf("%s: only %d hot pixels in truth: the test tells nothing", d.Label, truth)
	}
	if float64(found) < 0.97*float64(truth) || float64(wrong) > 0.01*float64(truth) {
		t.Errorf("%s: %d of %d hot pixels found, %d false (threshold %.3g e-/s)", d.Label, found, truth, wrong, limit)
	}
}
