package stats

// Weights are those of a square window of pixels, row by row; every row is filled
// up with zeros to whole eights.
type Weights struct {
	side, eights int
	w            []float32
}

// NewWeights takes side x side weights.
func NewWeights(side int, w []float32) Weights {
	eights := (side + 7) / 8
	out := Weights{side, eights, make([]float32, side*8*eights)}
	for y := range side {
		copy(out.w[y*8*eights:], w[y*side:][:side])
	}
	return out
}

// Sum is that of the weighted pixels of a window that begins with the first of
// picture, which has so many columns. In single precision: the sums of sixteen
// columns, then those of halves.
func (w *Weights) Sum(picture []float32, columns int) float32 {
	if sum, ok := w.fastSum(picture, columns); ok {
		return sum
	}
	return w.plainSum(picture, columns)
}

func (w *Weights) plainSum(picture []float32, columns int) float32 {
	var sums [16]float32
	for y := range w.side {
		row := picture[y*columns:][:w.side]
		for x, v := range row {
			sums[x%16] += w.w[y*8*w.eights+x] * v
		}
	}
	for n := 8; n > 0; n /= 2 {
		for i := range n {
			sums[i] += sums[i+n]
		}
	}
	return sums[0]
}
