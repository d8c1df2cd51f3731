package night

import (
	"math"
	"testing"
)

// A pixel that is full in the dark as well tells no level at which stars saturate: what
// the dark leaves of it is noise about 0, and every star would be above.
func TestPixelFullInTheDarkIsNoSaturatedStar(t *testing.T) {
	const full, offset = 65520, 1600
	for name, c := range map[string]struct {
		stars []int
		want  float64
	}{
		"no star is full": {nil, math.Inf(1)},
		"one is":          {[]int{7}, (full - offset) / 0.8},
	} {
		raw, dark, flat := make([]float32, 20), make([]float32, 20), make([]float32, 20)
		for i := range raw {
			raw[i], dark[i], flat[i] = 2000, offset, 0.8
		}
		raw[3], dark[3] = full, full-90 // a mean of darks that are mostly full
		raw[4], dark[4] = full, full
		for _, i := range c.stars {
			raw[i] = full
		}
		var b buffers
		b.findSaturated(raw, 0, full)
		for i := range raw {
			b.pixels = append(b.pixels, (raw[i]-dark[i])/flat[i])
		}
		if top := b.markSaturated(full); math.Abs(top-c.want) > 0.01 && top != c.want {
			t.Errorf("%s: stars saturate at %v, want %v", name, top, c.want)
		}
		if b.full() {
			t.Errorf("%s: the sky is said to be full", name)
		}
		if b.pixels[3] > 1000 {
			t.Errorf("%s: a hot pixel is as bright as a saturated star", name)
		}
	}
}

// A sky that fills most pixels is no measure of itself.
func TestFullSky(t *testing.T) {
	for _, c := range []struct {
		full int
		want bool
	}{{2, false}, {49, false}, {90, true}, {100, true}} {
		b := buffers{pixels: make([]float32, 100)}
		for i := range b.pixels {
			b.pixels[i] = 40000
		}
		for i := range c.full {
			b.pixels[i] = 65535
		}
		b.findSaturated(b.pixels, 0, 65535)
		if b.markSaturated(65535); b.full() != c.want {
			t.Errorf("%d of 100 pixels are full: %v", c.full, b.full())
		}
	}
}
