package worth

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// oracle is a sensor of known truth, and how it is used.
type oracle struct {
	name         string
	c            simCamera
	subs         int
	seconds, sky float64
	still, moved Verdict // verdicts without and with dither
}

// Rates and noises are those of sensors as they are sold and were sold (common
// practice, no source). Of 16 dithered subs two equal outliers lie 2.56 standard deviations
// off: where two hot pixels of the many meet they stay, as the stacks show, so that a
// defect map is worth it.
var oracles = []oracle{
	{"clean modern", simCamera{gain: 0.25, read: 1.5, pattern: 0.3, dark: 0.002, warm: 0.0003, hotShare: 0.004, hotMin: 0.05},
		16, 300, 0.5, "a defect map is enough", "a defect map is enough"},
	{"modern, black level clamped", simCamera{gain: 0.25, read: 1.5, pattern: 0.3, dark: 0.01, warm: 0.003, hotShare: 0.004, hotMin: 0.05, clamped: true},
		16, 300, 0.05, "worth it", "a defect map is enough"},
	{"warm and old", simCamera{gain: 1.2, read: 8, pattern: 3, dark: 0.3, warm: 0.08, tailed: true, hotShare: 0.004, hotMin: 4},
		20, 600, 0.4, "worth it", "worth it"},
	{"strong glow", simCamera{gain: 0.25, read: 1.8, pattern: 0.3, dark: 0.01, warm: 0.001, hotShare: 0.004, hotMin: 0.05, glow: 1},
		12, 300, 0.3, "worth it", "worth it"},
	{"telegraph noise", simCamera{gain: 0.25, read: 1.5, pattern: 0.3, dark: 0.005, warm: 0.0005, hotShare: 0.004, hotMin: 0.05, jumping: 0.02, jump: 7},
		10, 120, 0.02, "a defect map is enough", "a defect map is enough"},
}

// input measures the sensor from frames of its own and says what the subs were.
func (o *oracle) input(t *testing.T, bias, darks int) Input {
	t.Helper()
	o.c.frames(bias, frames.Bias, 0, 0)
	if darks > 0 {
		o.c.frames(darks, frames.Dark, o.seconds, 0)
	}
	o.c.frames(6, frames.Flat, 5, 25000*o.c.gain)
	r := o.c.analyse(t)
	lights := &frames.Group{Kind: frames.Light, Camera: "Invented Mono 1", Width: o.c.w, Height: o.c.h, BinX: 1, BinY: 1,
		GainSetting: 100, OffsetSetting: 30, Exposure: o.seconds, Frames: []*frames.Frame{o.c.made[0]}}
	applied := r.For(lights)
	return Input{Label: o.name, Camera: sensor.ModeOf(lights), Subs: o.subs, Exposure: o.seconds, TempC: 0,
		SkyRate: stats.Known(o.sky, 0, o.subs), Gain: applied.Gain, Saturation: applied.Saturation, ReadNoise: applied.ReadNoise, DarkRate: applied.DarkRate,
		Sets: r.Sets, Dark: r.DarkSetFor(lights), Bias: r.BiasSetFor(lights), BiasFits: true, DitherPx: math.NaN()}
}

// moves are the ways that subs lie on each other, and which corrections are tried on them.
var moves = []struct {
	name     string
	shift    func(k int) (int, int)
	from, to int
}{
	{"still", func(int) (int, int) { return 0, 0 }, 0, 4},
	{"meeting in part", func(k int) (int, int) { return apart(k - k/6) }, 0, 4}, // every sixth sub falls where another did
	{"scattered", apart, 1, 2},
}

// apart are shifts of which no two pairs of subs differ by the same, as chance makes them:
// where they do, two hot pixels that meet once meet again and again, and how many stay in
// a stack scatters several times as much as their number's root.
func apart(k int) (x, y int) { return 7 * k, k * k }

// Whole stacks, simulated in every way of correcting them, have the noise and
// the hot pixels that the budget predicts from the measured camera.
func TestBudgetAgainstSimulatedStacks(t *testing.T) {
	for i, o := range oracles {
		t.Run(o.name, func(t *testing.T) {
			if testing.Short() && i > 0 {
				t.Skip("whole simulated stacks of one sensor are enough")
			}
			t.Parallel()
			o.c.w, o.c.h = 256, 256
			o.c.init(uint64(11 + i)) // hot pixels of its own
			in := o.input(t, 20, 20)
			s, _, lacks := in.sensor()
			if lacks.Code != "" {
				t.Fatal(lacks)
			}
			t.Logf("measured: sky %.4g read %.4g offset %.4g dark %.4g pattern %.4g ± %.2g glow %+v gain %v full %g", s.sky, s.read, s.offset, s.dark, s.pattern, s.patternErr, s.glow, in.Gain, s.full)
			bias, many, dark := o.c.master(20, 0), o.c.master(1000, 0), o.c.master(10, o.seconds)
			for _, m := range moves {
				night := o.c.night(o.subs, o.seconds, o.sky, m.shift)
				in.Places = night.places()
				l, ok := in.layout(o.subs)
				if !ok {
					t.Fatal("the places do not tell")
				}
				for _, way := range []struct {
					by     Correction
					frames int
					master []float64
				}{{ByNothing, 0, nil}, {ByBias, 20, bias}, {ByBias, 1000, many}, {ByDarks, 10, dark}}[m.from:m.to] {
					noise, left := night.stacked(way.master, way.by == ByDarks)
					c := s.counted(way.by, way.frames, o.seconds, l)
					where := fmt.Sprintf("%s, %s of %d", m.name, way.by, way.frames)
					t.Logf("%s: noise %.3f, predicted %.3f (%+.1f %%); hot %.0f, predicted %.0f %.0f %.0f", where, noise, c.Total,
						100*(c.Total/noise-1), left, c.HotMean, c.HotScatter, c.HotNoise)
					// 60000 differences of neighbours give the noise to 0.4 %, and the camera's figures are as good.
					if !(math.Abs(c.Total/noise-1) <= 0.03) {
						t.Errorf("%s: noise %.4f, predicted %.4f", where, noise, c.Total)
					}
					for i, want := range []float64{c.HotMean, c.HotScatter, c.HotNoise} {
						// Noise to 3 percent moves the limit, and with it that many of hot pixels that are
						// as common in each octave. The number left is drawn by chance, and two hundred are tried.
						if !(math.Abs(left[i]-want) <= 0.03*left[i]+2.5*math.Sqrt(max(left[i], want))) {
							t.Errorf("%s: %.0f hot pixels left by rejection %d, predicted %.1f", where, left[i], i, want)
						}
					}
				}
			}
			for _, c := range []struct {
				px   float64
				want Verdict
			}{{5, o.moved}, {0.2, o.still}} {
				in.DitherPx, in.Places = c.px, nil
				w := OfDarks(in)
				if w.Verdict() != c.want {
					t.Errorf("dither %g px: %q, want %q (benefit %.2f %%)", c.px, w.Verdict(), c.want, w.BenefitPct.V)
				}
			}
		})
	}
}
