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

// telegraph holds a strip of all frames at a time where files can be read side by
// side, else two sums of every pixel, which take less than those of the series did.
func (b *biasRun) telegraph(st *stack.Stacker) []JumpyPixel {
	if !b.pixel.noisy.OK() || len(b.Frames) < stack.NoiseFrames || b.master == nil {
		return nil
	}
	var found []JumpyPixel
	if st.Rows(b.Frames, func(first int, rows [][]uint16) {
		j := jumps{mean: b.master.Strip(first, len(rows[0])), first: first}
		for _, x := range rows {
			j.add(stack.Whole, x)
		}
		found = append(found, j.beyond(b.pixel.limit)...)
	}) {
		return found
	}
	if st.RoomForWhole(b.Frames) != nil {
		return nil
	}
	j := jumps{mean: b.master.Pixels()}
	if j.mean == nil {
		return nil
	}
	if _, _, err := st.Stream(b.Frames, func(unit stack.Scale, _ *stack.Sample, batch []*stack.Sample) {
		for _, s := range batch {
			j.add(unit, s.X)
		}
	}); err != nil {
		return nil
	}
	return j.beyond(b.pixel.limit)
}

// jumps are squared deviations of pixels from their mean, from the pixel first on.
type jumps struct {
	mean             []float32 // ADU
	first, frames    int
	squares, largest []float32 // sum and largest over the frames
}

func (j *jumps) add(unit stack.Scale, x []uint16) {
	if j.squares == nil {
		j.squares, j.largest = make([]float32, len(j.mean)), make([]float32, len(j.mean))
	}
	j.frames++
	for i, mean := range j.mean {
		d := float32(unit.Zero+unit.Step*float64(x[i])) - mean
		j.squares[i] += d * d
		j.largest[i] = max(j.largest[i], d*d)
	}
}

// beyond are the pixels whose deviation, the largest left out, passes a limit, ADU.
func (j *jumps) beyond(limit float64) (found []JumpyPixel) {
	for i := range j.squares {
		if v := float64(j.squares[i]-j.largest[i]) / float64(j.frames-2); v > limit*limit {
			found = append(found, JumpyPixel{int32(j.first + i), math.Sqrt(v)})
		}
	}
	return found
}
