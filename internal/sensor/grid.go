package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// preview makes a master small for the report.
func preview(pixels []float32, g *frames.Group, workers int) *frames.Preview {
	mosaic := len(g.Frames) > 0 && g.Frames[0].Meta.Bayer != ""
	whole := frames.NewShrinker(g.Width, g.Height, frames.PreviewWidth, mosaic).Preview
	parts := max(1, min(workers, whole.Height))
	small := make([][]float32, parts)
	parallel.Ranges(whole.Height, parts, func(part, from, to int) {
		rows := pixels[from*whole.Step*g.Width : to*whole.Step*g.Width]
		small[part] = frames.Shrink(rows, g.Width, (to-from)*whole.Step, frames.PreviewWidth, mosaic).Pixels
	})
	whole.Pixels = slices.Concat(small...)
	return whole
}

// gridCells is into how many cells the longer side of a frame is cut.
const gridCells = 32

// coarse is a map of cell medians, which hot pixels and particle hits do not move, by one
// of so many pairs of rows. What cells leave over of a side, an eighth of one or more, is in
// a last cell that reaches from the edge into the one before: amplifiers glow at edges.
func coarse(pixels []float32, width, every, workers int) stats.Map {
	height := len(pixels) / width
	step := max(8, (max(width, height)+gridCells-1)/gridCells)
	step += step % 2 // whole 2x2 tiles of a colour mosaic
	cells := func(side int) int { return max(1, (side+step-max(1, step/8))/step) }
	m := stats.Map{Width: cells(width), Height: cells(height), Step: step}
	m.Values = make([]float64, m.Width*m.Height)
	parallel.Items(m.Height, workers, func(j int) {
		cell := make([]float32, 0, step*step)
		y0 := cellFrom(j, step, height)
		for i := range m.Width {
			cell = cell[:0]
			x0 := cellFrom(i, step, width)
			for y := y0; y < min(height, y0+step); y++ {
				if y/2%every != 0 { // whole 2x2 tiles
					continue
				}
				cell = append(cell, pixels[y*width+x0:y*width+min(width, x0+step)]...)
			}
			m.Values[j*m.Width+i] = stats.MedianInPlace(cell)
		}
	})
	return m
}

// cellFrom is where a cell of coarse begins along a side, whole 2x2 tiles from the start.
func cellFrom(i, step, side int) int {
	last := max(0, side-step)
	return min(i*step, last-last%2)
}

func cellMeans(pixels []float32, width, step, workers int) stats.Map {
	height := len(pixels) / width
	m := stats.Map{Width: width / step, Height: height / step, Step: step}
	m.Values = make([]float64, m.Width*m.Height)
	parallel.Items(m.Height, workers, func(j int) {
		for i := range m.Width {
			var sum float64
			for y := j * step; y < (j+1)*step; y++ {
				for _, v := range pixels[y*width+i*step : y*width+(i+1)*step] {
					sum += float64(v)
				}
			}
			m.Values[j*m.Width+i] = sum / float64(step*step)
		}
	})
	return m
}

// cellNoise is that of a cell, from second differences along the rows: slopes
// cancel in them, and an even curvature in their spread about the median.
func cellNoise(m stats.Map) float64 {
	var bends []float64
	for j := range m.Height {
		for i := 1; i+1 < m.Width; i++ {
			bends = append(bends, m.At(i-1, j)-2*m.At(i, j)+m.At(i+1, j))
		}
	}
	return stats.MADSigma(bends) / math.Sqrt(6)
}
