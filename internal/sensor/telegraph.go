package sensor

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
)

// JumpyPixel is a pixel that jumps between levels.
type JumpyPixel struct {
	Index int32   // y*width+x
	ADU   float64 // its noise
}

// Telegraph are the pixels of a set of bias frames that jump between levels: noisier
// than chance makes any (see measurePixelNoise) even without their largest
// deviation, which may be a particle's.
func (cs *Cameras) Telegraph(g *frames.Group) []JumpyPixel {
	for _, b := range cs.biases {
		if b.group == g {
			return b.telegraph(cs.stacker)
		}
	}
	return nil
}

func (b *biasRun) telegraph(st *stack.Stacker) []JumpyPixel {
	n := len(b.Frames)
	m := b.master.Pixels()
	if !b.pixel.noisy.OK() || n < stack.NoiseFrames || m == nil {
		return nil
	}
	squares, largest := make([]float32, len(m)), make([]float32, len(m))
	if _, _, err := st.Stream(b.Frames, func(unit stack.Scale, _ *stack.Sample, batch []*stack.Sample) {
		for _, s := range batch {
			for i, mean := range m {
				d := float32(unit.Zero+unit.Step*float64(s.X[i])) - mean
				squares[i] += d * d
				largest[i] = max(largest[i], d*d)
			}
		}
	}); err != nil {
		return nil
	}
	var found []JumpyPixel
	limit := float32(b.pixel.limit * b.pixel.limit)
	for i := range squares {
		if v := (squares[i] - largest[i]) / float32(n-2); v > limit {
			found = append(found, JumpyPixel{int32(i), math.Sqrt(float64(v))})
		}
	}
	return found
}
