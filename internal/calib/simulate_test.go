package calib

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/dust"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// simCamera is an invented camera of known truth. Charge in electrons.
type simCamera struct {
	w, h      int
	gain      float64 // e-/ADU
	step      float64 // ADU between samples
	offset    float64 // ADU
	read      float64 // e-
	pattern   float64 // ADU, sd of the fixed offset pattern
	prnu      float64 // sd of the response
	dark      float64 // e-/s, median pixel, at 0 °C
	doubling  float64 // °C, by an Arrhenius law, at 0 °C
	warm      float64 // e-/s at 0 °C, sd of the dark rate from pixel to pixel
	hotShare  float64 // of the pixels
	hotMin    float64 // e-/s at 0 °C of the faintest hot pixel; brighter ones follow a 1/rate law up to 1000 times that
	glow      float64 // e-/s at the upper right corner
	fullWell  float64 // e-
	vignette  float64 // light lost in the corners
	dust      []dust.Shadow
	telegraph float64 // share of pixels that jump between two levels
	bayer     string

	rng      *rand.Rand
	fixed    []float64 // ADU
	rate     []float64 // e-/s at 0 °C, hot pixels included, glow not
	hot      []bool
	respond  []float64
	lightMap []float64 // relative
	jumpy    []bool
	store    map[*frames.Frame][]uint16
	made     []*frames.Frame
	clock    time.Time
}

func (c *simCamera) init(seed uint64) {
	c.rng = rand.New(rand.NewPCG(seed, 77))
	n := c.w * c.h
	c.fixed, c.rate, c.respond, c.lightMap = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	c.hot, c.jumpy = make([]bool, n), make([]bool, n)
	c.store = map[*frames.Frame][]uint16{}
	c.clock = time.Date(2025, 3, 1, 20, 0, 0, 0, time.UTC)
	for i := range n {
		x, y := float64(i%c.w), float64(i/c.w)
		c.fixed[i] = c.pattern * c.rng.NormFloat64()
		c.rate[i] = max(0, c.dark+c.warm*c.rng.NormFloat64())
		if c.rng.Float64() < c.hotShare {
			c.hot[i] = true
			c.rate[i] += c.hotMin * math.Pow(1000, c.rng.Float64())
		}
		c.jumpy[i] = c.rng.Float64() < c.telegraph
		c.respond[i] = 1 + c.prnu*c.rng.NormFloat64()
		u, v := 2*x/float64(c.w-1)-1, 2*y/float64(c.h-1)-1
		c.lightMap[i] = 1 - c.vignette*(u*u+v*v)/2
		for _, s := range c.dust {
			// A defocused speck: a ring, dark at half its radius.
			if r := math.Hypot(x-s.X, y-s.Y) / (s.Diameter / 2); r < 1 {
				c.lightMap[i] *= 1 - s.DepthPct/100*(1-0.7*math.Exp(-8*r*r))
			}
		}
	}
}

// warmer is the dark current at a temperature relative to 0 °C (Arrhenius).
func (c *simCamera) warmer(celsius float64) float64 {
	if c.doubling == 0 {
		return 1
	}
	const t0 = 273.15
	ea := t0 * t0 * 8.617333e-5 * math.Ln2 / c.doubling
	return math.Exp(-ea / 8.617333e-5 * (1/(celsius+t0) - 1/t0))
}

// frame exposes one frame: seconds of dark current at a temperature, and
// electrons of light in the mean.
func (c *simCamera) frame(kind frames.Kind, seconds, celsius, light float64) *frames.Frame {
	pixels := make([]uint16, c.w*c.h)
	warmer := c.warmer(celsius)
	for i := range pixels {
		glow := 0.0
		if c.glow > 0 {
			u, v := float64(i%c.w)/float64(c.w), float64(i/c.w)/float64(c.h)
			glow = c.glow * math.Exp(-((1-u)*(1-u)+(1-v)*(1-v))/0.02)
		}
		e := habit.Poisson((c.rate[i]*warmer+glow)*seconds+light*c.lightMap[i]*c.respond[i], c.rng)
		if c.fullWell > 0 && e > c.fullWell {
			e = c.fullWell + (e-c.fullWell)*0.02
		}
		e += c.read * c.rng.NormFloat64()
		if c.jumpy[i] && c.rng.IntN(2) == 0 {
			e += 8 * c.read
		}
		adu := c.offset + c.fixed[i] + e/c.gain
		adu = c.step * math.RoundToEven(adu/c.step)
		pixels[i] = uint16(min(max(adu, 0), 65536-c.step))
	}
	m := frames.NoMeta()
	m.Exposure, m.SensorTemp, m.SetTemp, m.Camera, m.BinX, m.BinY = seconds, celsius, celsius, "Invented Mono 1", 1, 1
	m.GainSetting, m.OffsetSetting, m.Bayer = 100, 30, c.bayer
	c.clock = c.clock.Add(time.Minute)
	m.Start = c.clock
	f := &frames.Frame{Name: fmt.Sprintf("%s_%03d.fits", kind, len(c.made)+1), Kind: kind, Meta: m}
	f.Image = frames.Layout{Width: c.w, Height: c.h, Planes: 1, Bitpix: 16}
	c.store[f] = pixels
	c.made = append(c.made, f)
	return f
}

func (c *simCamera) frames(n int, kind frames.Kind, seconds, celsius, light float64) {
	for range n {
		c.frame(kind, seconds, celsius, light)
	}
}

// hits scatters particle hits over the frame made last.
func (c *simCamera) hits(n int) {
	pixels := c.store[c.made[len(c.made)-1]]
	for range n {
		i := c.rng.IntN(len(pixels))
		pixels[i] = uint16(min(65535-15, float64(pixels[i])+c.step*math.Round((1000+5000*c.rng.Float64())/c.step)))
	}
}

func (c *simCamera) read16(f *frames.Frame, im *frames.Image) error {
	im.Width, im.Height, im.Planes = c.w, c.h, 1
	im.U16 = append(im.U16[:0], c.store[f]...)
	im.F32 = nil
	return nil
}

func (c *simCamera) analyse(t *testing.T, change ...func(*Options)) *Result {
	t.Helper()
	opt := DefaultOptions
	opt.Read = c.read16
	for _, f := range change {
		f(&opt)
	}
	r, err := Analyse(context.Background(), frames.Sort(c.made), opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func (r *Result) kind(kind string) []*sensor.Set {
	var sets []*sensor.Set
	for _, s := range r.Sets {
		if s.Kind == kind {
			sets = append(sets, s)
		}
	}
	return sets
}

// setAt is the dark set of an exposure and temperature.
func (r *Result) setAt(t *testing.T, seconds, celsius float64) *sensor.Set {
	t.Helper()
	for _, s := range r.kind("dark") {
		if s.Group.Exposure == seconds && s.Group.SetTemp == celsius {
			return s
		}
	}
	t.Fatalf("no dark set of %g s at %g °C", seconds, celsius)
	return nil
}

// within checks a figure against the truth.
func within(t *testing.T, s *sensor.Set, metric string, want, tol float64) {
	t.Helper()
	v := s.Figure(metric).Value
	if !v.OK() {
		t.Errorf("%v: %v: %v", s.Label, metric, v.Why)
	} else if !(math.Abs(v.V-want) <= tol) {
		t.Errorf("%s: %s = %.6g ± %.2g, truth %.6g ± %.2g", s.Label, metric, v.V, v.Err, want, tol)
	}
}
