package worth

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
)

// simCamera is an invented camera of known truth. Charge in electrons.
type simCamera struct {
	w, h     int
	gain     float64 // e-/ADU
	offset   float64 // ADU; 0 for 1000
	read     float64 // e-
	dark     float64 // e-/s, median pixel
	warm     float64 // e-/s, sd of the dark rate from pixel to pixel
	tailed   bool    // it falls off exponentially to warm pixels instead
	hotShare float64 // of the pixels
	hotMin   float64 // e-/s of the faintest hot pixel; brighter ones follow a 1/rate law up to 1000 times that
	glow     float64 // e-/s at the upper right corner
	pattern  float64 // e-, sd of the fixed offset pattern
	clamped  bool    // the camera takes the mean dark signal off every frame
	jumping  float64 // share of the pixels that jump between two levels at random
	jump     float64 // e-, by which they do

	rng   *rand.Rand
	rate  []float64 // e-/s, hot pixels included, glow not
	hot   []bool
	shine []float64 // e-/s, of the glow
	fixed []float64 // e-
	jumps []bool
	store map[*frames.Frame][]uint16
	made  []*frames.Frame
	clock time.Time
}

func (c *simCamera) init(seed uint64) {
	c.rng = rand.New(rand.NewPCG(seed, 77))
	n := c.w * c.h
	c.rate, c.hot, c.fixed, c.jumps = make([]float64, n), make([]bool, n), make([]float64, n), make([]bool, n)
	if c.offset == 0 {
		c.offset = 1000
	}
	c.shine = make([]float64, n)
	c.store = map[*frames.Frame][]uint16{}
	c.clock = time.Date(2025, 3, 1, 20, 0, 0, 0, time.UTC)
	for i := range n {
		c.rate[i] = max(0, c.dark+c.warm*c.rng.NormFloat64())
		if c.tailed {
			warm := c.rng.ExpFloat64()
			c.rate[i] = max(0, c.dark+c.warm*(warm-math.Ln2)) // dark is the median
			c.hot[i] = warm > 5
		}
		if c.glow > 0 {
			u, v := float64(i%c.w)/float64(c.w), float64(i/c.w)/float64(c.h)
			c.shine[i] = c.glow * math.Exp(-((1-u)*(1-u)+(1-v)*(1-v))/0.02)
		}
		if c.rng.Float64() < c.hotShare {
			c.hot[i] = true
			c.rate[i] += c.hotMin * math.Pow(1000, c.rng.Float64())
		}
		c.fixed[i] = c.pattern * c.rng.NormFloat64()
		c.jumps[i] = c.rng.Float64() < c.jumping
	}
}

func (c *simCamera) poisson(mean float64) float64 {
	switch {
	case mean <= 0:
		return 0
	case mean < 40:
		return distuv.Poisson{Lambda: mean, Src: c.rng}.Rand()
	}
	return math.Round(mean + math.Sqrt(mean)*c.rng.NormFloat64())
}

// charge is one exposure above the camera's level, e-.
func (c *simCamera) charge(i int, seconds, light float64) float64 {
	e := c.fixed[i] + c.poisson((c.rate[i]+c.shine[i])*seconds+light) + c.read*c.rng.NormFloat64()
	if c.jumps[i] && c.rng.IntN(2) == 0 {
		e += c.jump
	}
	if c.clamped {
		e -= c.dark * seconds
	}
	return min(e, (65535-c.offset)*c.gain)
}

// frames exposes n frames, light in electrons a pixel.
func (c *simCamera) frames(n int, kind frames.Kind, seconds, light float64) {
	for range n {
		pixels := make([]uint16, c.w*c.h)
		for i := range pixels {
			pixels[i] = uint16(min(max(math.Round(c.offset+c.charge(i, seconds, light)/c.gain), 0), 65535))
		}
		m := frames.NoMeta()
		m.Exposure, m.SensorTemp, m.SetTemp, m.Camera, m.BinX, m.BinY = seconds, 0, 0, "Invented Mono 1", 1, 1
		m.GainSetting, m.OffsetSetting = 100, 30
		c.clock = c.clock.Add(time.Minute)
		m.Start = c.clock
		f := &frames.Frame{Name: fmt.Sprintf("%s_%03d.fits", kind, len(c.made)+1), Kind: kind, Meta: m}
		f.Image = frames.Layout{Width: c.w, Height: c.h, Planes: 1, Bitpix: 16}
		c.store[f] = pixels
		c.made = append(c.made, f)
	}
}

func (c *simCamera) analyse(t *testing.T) *calib.Result {
	t.Helper()
	opt := calib.DefaultOptions
	opt.Read = func(f *frames.Frame, im *frames.Image) error {
		im.Width, im.Height, im.Planes = c.w, c.h, 1
		im.U16 = append(im.U16[:0], c.store[f]...)
		im.F32 = nil
		return nil
	}
	r, err := calib.Analyse(context.Background(), frames.Sort(c.made), opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
