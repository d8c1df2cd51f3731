package worth

// cellMap holds the levels of cells of one sub by columns, rows of a block and blocks.
type cellMap struct {
	levels []float64
	place  Place
	tied   bool // the place is known
}

func meanOf(maps [][]float64) []float64 {
	mean := make([]float64, len(maps[0]))
	for _, m := range maps {
		for c, v := range m {
			mean[c] += v / float64(len(maps))
		}
	}
	return mean
}

// share of the frame's sides at which a cell lies.
func (s *Seen) share(c int) (u, v float64) {
	x, y := s.centre(c)
	return x / float64(s.frameWidth), y / float64(s.frameHeight)
}

// slope of the map at a cell, a pixel.
func (s *Seen) slope(mean []float64, c int) (x, y float64) {
	i, j := c%s.cols, c/s.cols%s.rows
	along := func(k, n, step int, size float64) float64 {
		lo, hi := c, c
		if k > 0 {
			lo = c - step
		}
		if k < n-1 {
			hi = c + step
		}
		return (mean[hi] - mean[lo]) / (size * max(1, float64((hi-lo)/step)))
	}
	return along(i, s.cols, 1, float64(s.frameWidth)/float64(s.cols)), along(j, s.rows, s.cols, float64(s.block)/float64(s.rows))
}

func (s *Seen) neighbours(c int) []int {
	var near []int
	i, j := c%s.cols, c/s.cols%s.rows
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if (di != 0 || dj != 0) && i+di >= 0 && i+di < s.cols && j+dj >= 0 && j+dj < s.rows {
				near = append(near, c+dj*s.cols+di)
			}
		}
	}
	return near
}

func (s *Seen) centre(c int) (x, y float64) {
	i, j, b := c%s.cols, c/s.cols%s.rows, c/s.cols/s.rows
	return (float64(i) + 0.5) * float64(s.frameWidth) / float64(s.cols), float64(s.firstRow[b]) + (float64(j)+0.5)*float64(s.block)/float64(s.rows)
}
