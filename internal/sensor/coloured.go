package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
)

// Light that leaks in evenly is like dark current in all but two things: it does not grow
// with temperature (see leastActivation), and a colour mosaic shows its colour.

const (
	// colouredFrom is by how much of the largest the dark signals of colours differ where
	// light is the reason: cameras that weigh their colours differ by less (common
	// practice, no source).
	colouredFrom = 0.25
	// colouredRows is how many rows of a mosaic tell its colours: with a thousand pixels in
	// each, half a million of every colour are known to less than a hundredth of their noise.
	colouredRows = 1024
)

// coloured tells that the dark signal of a colour mosaic has a colour, beyond by what
// the offsets of colours may have moved since the bias; no code where it has none.
func (d *darkRun) coloured(signal []float32, workers int) fact.Fact {
	if d.bias == nil || !d.Noise.OK() {
		return fact.Fact{}
	}
	width := d.group.Width
	pairs := len(signal) / (2 * width)
	step := max(1, 2*pairs/colouredRows)
	var some []float32
	for k := 0; k < pairs; k += step {
		some = append(some, signal[2*k*width:2*(k+1)*width]...)
	}
	levels := planeLevels(d.group.Frames[0].Meta, some, width, workers)
	if len(levels) == 0 {
		return fact.Fact{}
	}
	byLevel := func(x, y PlaneLevel) int { return cmp.Compare(x.Level, y.Level) }
	low, high := slices.MinFunc(levels, byLevel), slices.MaxFunc(levels, byLevel)
	moved := math.Hypot(math.Hypot(d.Level().Err, d.bias.offset.Err), stack.WanderShare*d.Noise.V)
	if differ := high.Level - low.Level; differ < colouredFrom*high.Level || differ < 5*moved {
		return fact.Fact{}
	}
	return fact.Of(DarkLit, fact.Text("low", low.Name), fact.Number("low_adu", low.Level), fact.Text("high", high.Name), fact.Number("high_adu", high.Level))
}
