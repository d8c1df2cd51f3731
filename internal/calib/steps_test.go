package calib

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// Masters in steps of the converter, of subs whose samples were scaled up to 16 bits, are
// brought to the subs' scale; those that have it stay as they are. The pattern tells, of
// half the master's noise even; a dark of another exposure goes by the bias beside it.
func TestMastersInSteps(t *testing.T) {
	t.Parallel()
	const w, h, offset, sky = 160, 128, 60, 40 // steps
	store := map[*frames.Frame][]float32{}
	stacker := stack.New(context.Background(), stack.Options{Workers: 1, Read: func(f *frames.Frame, im *frames.Image) error {
		im.Width, im.Height, im.Planes, im.F32 = w, h, 1, store[f]
		return nil
	}})
	cameras := sensor.New(stacker, sensor.Options{Workers: 1})
	for _, step := range []float64{4, 16} {
		for _, in := range []float64{1, step} { // what a step of the masters is
			for seed := range uint64(5) {
				rng := rand.New(rand.NewPCG(seed, 5))
				pattern := make([]float64, w*h)
				for i := range pattern {
					pattern[i] = rng.NormFloat64()
				}
				master := func(level float64) []float32 {
					m := make([]float32, w*h)
					for i := range m {
						m[i] = float32(in * (level + pattern[i] + 0.5*rng.NormFloat64()))
					}
					return m
				}
				sub := make([]float32, w*h)
				for i := range sub {
					sub[i] = float32(step * math.Round(offset+sky+pattern[i]+6*rng.NormFloat64()))
					if rng.IntN(50) == 0 { // in the light of a star
						sub[i] += float32(step * math.Round(500*rng.ExpFloat64()))
					}
				}
				one := func(k frames.Kind, exposure float64, pixels []float32) *frames.Group {
					f := &frames.Frame{Kind: k, Master: k != frames.Light}
					store[f] = pixels
					return &frames.Group{Kind: k, Exposure: exposure, Width: w, Height: h, Frames: []*frames.Frame{f}}
				}
				bias, dark := one(frames.Bias, 0, master(offset)), one(frames.Dark, 900, master(offset+2))
				a := &analysis{
					cameras: cameras, stacker: stacker, masters: map[*frames.Group]*stack.Plane{},
					lights: []*frames.Group{one(frames.Light, 300, sub)},
					ready:  map[frames.Kind][]*frames.Group{frames.Bias: {bias}, frames.Dark: {dark}},
				}
				for _, v := range []struct {
					g    *frames.Group
					want float64
				}{{dark, step * (offset + 2)}, {bias, step * offset}} {
					m, why := a.openMaster(v.g)
					if why.Code != "" {
						t.Fatal(why)
					}
					mean := 0.0
					for _, p := range m.pixels {
						mean += float64(p) / w / h
					}
					if !(math.Abs(mean/v.want-1) <= 0.01) {
						t.Errorf("steps of %g, masters in %g: %s of %.1f ADU, want %.1f", step, in, v.g.Kind, mean, v.want)
					}
				}
			}
		}
	}
}
