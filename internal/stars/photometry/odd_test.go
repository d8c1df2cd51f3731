package photometry

import (
	"slices"
	"testing"
)

// A patch that is off by itself is left out; the end of a gradient is not, nor the furthest of
// patches that scatter by their noise alone.
func TestOddPatchIsLeftOut(t *testing.T) {
	even := []float64{1.00, 0.98, 1.02, 1.01, 0.97, 1.03, 1.00, 0.99, 1.02, 1.01, 0.98, 1.03}
	var ramp []float64
	for i := range 12 {
		ramp = append(ramp, 0.6+0.07*float64(i))
	}
	for name, c := range map[string]struct {
		ratio []float64
		left  int
	}{
		"noise": {even, 12}, "gradient": {ramp, 12}, "cloud's edge": {[]float64{1, 1.02, 0.98, 1, 0.5, 0.52, 0.48, 0.5, 0.99, 0.51, 1, 0.5}, 12},
		"one star off": {append(slices.Clone(even), 0.75), 12}, "none": {nil, 0}, "three": {[]float64{1, 1, 0.5}, 3},
	} {
		ratio, noise := withoutOdd(slices.Clone(c.ratio), slices.Clone(c.ratio))
		if len(ratio) != c.left || len(noise) != c.left || !slices.Equal(ratio, noise) {
			t.Errorf("%s: %d patches, %d noises left of %d, want %d", name, len(ratio), len(noise), len(c.ratio), c.left)
		}
	}
}
