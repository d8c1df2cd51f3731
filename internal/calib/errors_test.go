package calib_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/sensor"
)

// zTable gathers how many of their stated errors figures are off the truth.
type zTable map[string][]float64

func (z zTable) add(t *testing.T, s *sensor.Set, metric string, truth float64) {
	t.Helper()
	v := s.Figure(metric).Value
	if !v.OK() || !(v.Err > 0) {
		t.Errorf("%v: %v = %v ± %v: %v", s.Label, metric, v.V, v.Err, v.Why)
		return
	}
	name := s.Kind + " " + metric
	z[name] = append(z[name], (v.V-truth)/v.Err)
}

// check wants an rms of z between 0.8 and 1.3 in the mean of all figures, and of
// each within what so few values allow: the rms of n has an error of 1/sqrt(2n),
// of which one is let pass on either side.
func (z zTable) check(t *testing.T) {
	var names []string
	for n := range z {
		names = append(names, n)
	}
	slices.Sort(names)
	var table strings.Builder
	for _, name := range names {
		var sum, sq float64
		for _, v := range z[name] {
			sum += v
			sq += v * v
		}
		n := float64(len(z[name]))
		rms := math.Sqrt(sq / n)
		fmt.Fprintf(&table, "\n%-40s mean %+5.2f rms %4.2f of %2.0f", name, sum/n, rms, n)
		if slack := 1 / math.Sqrt(2*n); rms < 0.8-slack || rms > 1.3+slack {
			t.Errorf("%s: rms of z is %.2f", name, rms)
		}
	}
	t.Log(table.String())
}

// restless is a camera as they are: its offset wanders from series to series by a
// tenth of the read noise, its read noise by half a percent, and its thermometer
// steps by 0.4 °C (a real camera's bias and darks did all three).
func restless() habit.Camera {
	c := plainCamera()
	c.Wander, c.Unquiet, c.Thermo = 0.1*c.Read/c.Gain, 0.005, 0.4
	return c
}

// Errors are what repeated measurement of restless cameras shows.
func TestStatedErrors(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("twenty cameras for one scatter; TestAccuracy holds figures to the truth")
	}
	z := zTable{}
	for seed := range uint64(20) {
		c := restless()
		c.W, c.H, c.Dark = 280, 224, 0.08
		b := newBench(t, c, 100+seed)
		b.bias(10)
		offset, read := c.Offset+b.Moved, c.Read*b.Loud
		b.darks(5, 100, 0)
		b.darks(5, 300, 0)
		b.darks(5, 300, 10)
		b.flats(8, 25000)
		r := b.analyse()
		bias, flat, camera := set(t, r, "bias"), set(t, r, "flat"), set(t, r, "camera")
		z.add(t, bias, "offset_adu", offset)
		z.add(t, bias, "read_noise_adu", read/c.Gain)
		z.add(t, bias, "read_noise_e", read)
		z.add(t, bias, "fixed_pattern_adu", c.Pattern)
		cold, warm := set(t, r, "dark 300 s 0 °C"), set(t, r, "dark 300 s 10 °C")
		z.add(t, cold, "dark_current_e_per_s", dark(c, 0))
		z.add(t, cold, "dark_current_by_noise_e_per_s", dark(c, 0))
		z.add(t, cold, "dark_intercept_adu", 0)
		z.add(t, cold, "warm_nonuniformity_e_per_s", c.Warm)
		z.add(t, warm, "dark_current_e_per_s", dark(c, 10))
		z.add(t, warm, "warm_nonuniformity_e_per_s", c.Warm*c.Warmer(10))
		z.add(t, flat, "gain_e_per_adu", c.Gain)
		z.add(t, flat, "prnu_pct", 100*c.PRNU)
		z.add(t, flat, "corner_falloff_pct", corner(c))
		z.add(t, camera, "gain_e_per_adu", c.Gain)
		z.add(t, camera, "read_noise_e", read)
		z.add(t, camera, "dark_doubling_c", c.DoublingAt(5))
		z.add(t, camera, "dark_activation_ev", 8.617333e-5*math.Ln2*273.15*273.15/c.Doubling)
		z.add(t, camera, "dark_current_0c_e_per_s", dark(c, 0))
	}
	z.check(t)
}

// corner is the light lost in squares of an eighth of the shorter side, %: the
// mean of the four.
func corner(c habit.Camera) float64 {
	side := min(c.W, c.H) / 8
	var lost float64
	for y := range side {
		for x := range side {
			for _, p := range [4][2]int{{x, y}, {c.W - 1 - x, y}, {x, c.H - 1 - y}, {c.W - 1 - x, c.H - 1 - y}} {
				u, v := float64(p[0])/float64(c.W)-0.5, float64(p[1])/float64(c.H)-0.5
				lost += 100 * c.Vignette * 2 * (u*u + v*v) / float64(4*side*side)
			}
		}
	}
	return lost
}

// The same of a leak.
func TestStatedErrorsOfLeak(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("eighty sets, for one figure")
	}
	z := zTable{}
	for seed := range uint64(20) {
		c := restless()
		c.Dark, c.Leak = 0.15, 0.05
		b := newBench(t, c, 200+seed)
		b.bias(10)
		b.flats(4, 25000)
		b.darks(5, 100, 0)
		b.darks(5, 300, 0)
		long := set(t, b.analyse(), "dark 300 s")
		z.add(t, long, "light_leak_pct", 100*c.Leak/c.Dark)
	}
	z.check(t)
}

// The same of a glow, and of the offset of a single frame.
func TestStatedErrorsOfGlow(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("eighty sets, for two figures")
	}
	z := zTable{}
	for seed := range uint64(20) {
		c := restless()
		c.Dark, c.Glow = 0.15, 0.15
		b := newBench(t, c, 300+seed)
		b.bias(10)
		b.flats(4, 25000)
		b.darks(5, 300, 0)
		z.add(t, set(t, b.analyse(), "dark 300 s"), "glow_e", 300*cornerGlow(c))

		b = newBench(t, c, 400+seed)
		b.bias(1)
		z.add(t, set(t, b.analyse(), "bias"), "offset_adu", c.Offset)
	}
	z.check(t)
}

// cornerGlow is the glow in the middle of the upper right cell, ten pixels wide.
func cornerGlow(c habit.Camera) float64 {
	u, v := (float64(c.W)-5.5)/float64(c.W), (float64(c.H)-5.5)/float64(c.H)
	return c.Glow * math.Exp(-((1-u)*(1-u)+(1-v)*(1-v))/0.02)
}
