package sensor

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// A pile that the read-out smears over a per mille is one, in whole numbers and in
// parts; what another frame of parts exceeds by a twentieth is not where samples end.
func TestTopOfAll(t *testing.T) {
	piled := func(scale stack.Scale, at, above int) samples {
		h := stats.NewHistogram(0, math.MaxUint16)
		for v := range 3000 {
			h.Counts[v] = 5
		}
		h.Counts[at], h.Counts[above] = 500, 2
		return samples{counts: h, scale: scale}
	}
	parts, twice := stack.Scale{Step: 1. / 4096}, stack.Scale{Step: 1.05 / 4096}
	for _, c := range []struct {
		name      string
		each      []samples
		pile, top float64
	}{
		{"nothing to see", []samples{{}}, math.NaN(), math.Inf(-1)},
		{"whole numbers, smeared", []samples{piled(stack.Whole, 4000, 4006), {}}, 4000, 4006},
		{"parts, smeared", []samples{piled(parts, 4000, 4006)}, 4000. / 4096, 4006. / 4096},
		{"parts, exceeded", []samples{piled(parts, 4000, 4006), {func() *stats.Histogram { h := stats.NewHistogram(0, 5000); h.Counts[4100] = 1; return h }(), twice, false}}, math.NaN(), 1.05 * 4100 / 4096},
	} {
		pile, top := topOfAll(c.each)
		if !(pile == c.pile || math.IsNaN(pile) && math.IsNaN(c.pile)) || math.Abs(top-c.top) > 1e-9 && top != c.top {
			t.Errorf("%s: pile %v, top %v; want %v, %v", c.name, pile, top, c.pile, c.top)
		}
	}
}

// Frames of one value are full where a converter ends, and tell nothing elsewhere.
func TestPileOfConstantFrames(t *testing.T) {
	for value, want := range map[int]float64{65535: 65535, 65520: 65520, 4095: 4095, 30000: math.NaN(), 0: math.NaN()} {
		h := stats.NewHistogram(0, math.MaxUint16)
		h.Counts[value] = 240000
		if got := pileUp(h, ofStars); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%d: %v, want %v", value, got, want)
		}
	}
}

// A full well that the read-out smears over some values is a pile, under stars of any
// number; the flat tops of stars far out of focus and an evenly lit frame, which have their
// own light's noise, are none.
func TestPileSmearedByReadNoise(t *testing.T) {
	const full, rounds = 37000, 10
	for _, c := range []struct {
		name     string
		smear    float64 // sd, ADU
		pixels   int     // full ones, or of one brightness
		light    int     // of pixels of stars below it
		saturate bool
	}{
		{"half a step", 0.5, 40, 3000, true},
		{"read noise of 2 ADU", 2, 150, 3000, true},
		{"of 4 ADU", 4, 150, 1000, true},
		{"of 8 ADU, many stars", 8, 600, 20000, true},
		{"no stars but the full ones", 2, 60, 0, true},
		{"unsaturated stars", 0, 0, 20000, false},
		{"flat tops of 37000 ADU of 1.2 e-", math.Sqrt(full / 1.2), 600, 3000, false},
		{"of 5 e-", math.Sqrt(full / 5.), 600, 3000, false},
		{"an even frame", math.Sqrt(full / 1.2), 300000, 3000, false},
	} {
		for seed := range uint64(rounds) {
			rng := rand.New(rand.NewPCG(seed, 11))
			h := stats.NewHistogram(0, math.MaxUint16)
			h.Counts[500] = 300000 // the sky
			for range c.light {    // peaks and wings: as many per ln of the brightness
				h.Counts[int(500*math.Exp(rng.Float64()*math.Log(full/500)))]++
			}
			for range c.pixels {
				h.Counts[int(math.Round(full+c.smear*rng.NormFloat64()))]++
			}
			got := pileUp(h, ofStars)
			// The commonest value is within the smear, as far as a few pixels tell.
			if c.saturate != (math.Abs(got-full) < 3*c.smear+1) || !c.saturate && !math.IsNaN(got) {
				t.Errorf("%s, seed %d: %v", c.name, seed, got)
			}
		}
	}
}

// A pile at the end of 16 bits ends the count as soon as it is sure. Nine samples may be
// one star, and of what is smeared over the values below only all of the frame tells.
func TestSurePileEndsTheCount(t *testing.T) {
	const w, h = 400, 300
	for _, c := range []struct {
		name       string
		top, below int // samples at the end, and at each of the hundred values below it
		bitpix     int
		ended      bool
		pile       float64
	}{
		{"many", 200, 0, 16, true, math.MaxUint16},
		{"beside single ones", 200, 1, 16, true, math.MaxUint16},
		{"few", 9, 0, 16, false, math.MaxUint16},
		{"smeared", 200, 150, 16, false, math.MaxUint16},
		{"higher ones may come", 200, 0, 32, false, math.MaxUint16},
	} {
		pixels := make([]uint16, 0, w*h)
		for range c.top {
			pixels = append(pixels, math.MaxUint16)
		}
		for v := range uint16(100) {
			for range c.below {
				pixels = append(pixels, math.MaxUint16-1-v)
			}
		}
		for len(pixels) < w*h {
			pixels = append(pixels, uint16(1000+len(pixels)%300))
		}
		read := func(_ *frames.Frame, im *frames.Image) error {
			im.Width, im.Height, im.Planes, im.U16 = w, h, 1, pixels
			return nil
		}
		cs := New(stack.New(context.Background(), stack.Options{Workers: 1, Read: read}), Options{Workers: 1})
		f := &frames.Frame{Kind: frames.Light, Image: frames.Layout{Width: w, Height: h, Planes: 1, Bitpix: c.bitpix}}
		s, err := cs.samplesOf(f)
		if err != nil || s.ended != c.ended {
			t.Errorf("%s: ended %v, want %v (%v)", c.name, s.ended, c.ended, err)
		}
		if pile, _ := cs.topOf(&frames.Group{Frames: []*frames.Frame{f, f}}); pile != c.pile && !(math.IsNaN(pile) && math.IsNaN(c.pile)) {
			t.Errorf("%s: samples pile up at %v, want %v", c.name, pile, c.pile)
		}
	}
}
