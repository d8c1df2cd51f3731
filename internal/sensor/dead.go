package sensor

import "fitsqa/internal/stats"

const (
	deadBelow = 0.5  // of the surroundings' light; common practice, no source
	mostDead  = 1000 // listed: a sensor with more has other troubles
)

// findDead lists the pixels of a master flat that give less than half the light
// of the pixels of their colour around them, at most mostDead of them.
func (f *flatRun) findDead(flat []float32) {
	width := f.group.Width
	height := len(flat) / width
	stride := 1
	if len(planeNames(f.Frames[0].Meta)) > 0 {
		stride = 2
	}
	ring := make([]float32, 0, 24)
	for y := range height {
		for x, v := range flat[y*width : (y+1)*width] {
			// The brightest of four neighbours settles nearly all pixels, and
			// finds those in dead rows and columns.
			left, right := max(x-stride, x%stride), min(x+stride, width-1)
			below, above := max(y-stride, y%stride), min(y+stride, height-1)
			row := flat[y*width:]
			if v >= deadBelow*max(row[left], row[right], flat[below*width+x], flat[above*width+x]) {
				continue
			}
			ring = ring[:0]
			for dy := -2 * stride; dy <= 2*stride; dy += stride {
				for dx := -2 * stride; dx <= 2*stride; dx += stride {
					if i, j := x+dx, y+dy; (dx != 0 || dy != 0) && i >= 0 && j >= 0 && i < width && j < height {
						ring = append(ring, flat[j*width+i])
					}
				}
			}
			around := stats.MedianInPlace(ring)
			if float64(v) < deadBelow*around && len(f.detail.Dead) < mostDead {
				f.detail.Dead = append(f.detail.Dead, DeadPixel{x, y, float64(v) / around})
			}
		}
	}
}
