package stats

import "math"

// nodeStep is the spacing in px of the points of a row at which the cubic is
// evaluated; between them a straight line is within 1/1000 of a cell's own
// curvature.
const nodeStep = 8

// LevelRow writes the interpolated level of row y to dst, which is Width long.
func (m *Mesh) LevelRow(y int, dst []float32) {
	at := m.nodesOf(y)
	for x := range dst {
		k := x / nodeStep
		slope := (at[k+1] - at[k]) / nodeStep
		dst[x] = at[k] + float32(x%nodeStep)*slope
	}
}

// SubtractRow takes the interpolated level off row y. It returns the highest
// finite number that stood there before (the lowest there is when none stood
// there), and whether any was none or infinite; and it marks the pixels of which as much is
// left as makes them high, eight in a byte, the lowest bit for the first.
func (m *Mesh) SubtractRow(y int, row []float32, high float32, marks []uint8) (top float32, odd bool) {
	return subtractRamps(row, m.nodesOf(y), high, marks)
}

// LevelAt is the interpolated level at a point.
func (m *Mesh) LevelAt(x, y float64) (sum float64) {
	i, fx := position(x, m.Width, m.Cols)
	j, fy := position(y, m.Height, m.Rows)
	left, wx := lineWeights(i, m.Cols, fx)
	low, wy := lineWeights(j, m.Rows, fy)
	for b := range min(len(wy), m.Rows-low) {
		row := m.Level[(low+b)*m.Cols+left:]
		for a := range min(len(wx), m.Cols-left) {
			sum += wy[b] * wx[a] * float64(row[a])
		}
	}
	return sum
}

// NoiseAt is the interpolated noise at a point, in straight lines between the
// centres of the cells and never below half the smaller of them.
func (m *Mesh) NoiseAt(x, y float64) float64 {
	i, fx := position(x, m.Width, m.Cols)
	j, fy := position(y, m.Height, m.Rows)
	fx, fy = min(max(fx, 0), 1), min(max(fy, 0), 1)
	i1, j1 := min(i+1, m.Cols-1), min(j+1, m.Rows-1)
	a := lerp(m.Noise[j*m.Cols+i], m.Noise[j*m.Cols+i1], fx)
	b := lerp(m.Noise[j1*m.Cols+i], m.Noise[j1*m.Cols+i1], fx)
	return a + (b-a)*fy
}

func lerp(a, b float32, f float64) float64 { return float64(a) + float64(b-a)*f }

// nodesOf interpolates the nodes of row y between rows of cells.
func (m *Mesh) nodesOf(y int) []float32 {
	j, f := position(float64(y), m.Height, m.Rows)
	first, w := lineWeights(j, m.Rows, f)
	n := len(m.nodes) / m.Rows
	var rows [4][]float32
	var weights [4]float32
	for k := range rows {
		j := min(first+k, m.Rows-1) // rows beyond the last have no weight
		rows[k], weights[k] = m.nodes[j*n:][:n], float32(w[k])
	}
	m.at = resized(m.at, n)
	blendRows(m.at, &rows, &weights)
	return m.at
}

// layNodes interpolates every row of cells at the nodes of a row of pixels.
func (m *Mesh) layNodes() {
	n := (m.Width+nodeStep-1)/nodeStep + 1
	m.nodes = resized(m.nodes, m.Rows*n)
	for k := range n {
		i, f := position(float64(k*nodeStep), m.Width, m.Cols)
		first, w := lineWeights(i, m.Cols, f)
		for j := range m.Rows {
			var sum float64
			for c, v := range m.Level[j*m.Cols:][first:min(first+len(w), m.Cols)] {
				sum += w[c] * float64(v)
			}
			m.nodes[j*n+k] = float32(sum)
		}
	}
}

// position finds the cell centre at or before a coordinate and the distance
// beyond it in cells; before the first or after the last centre the distance
// is outside 0 to 1.
func position(x float64, size, cells int) (int, float64) {
	if cells == 1 {
		return 0, 0
	}
	p := (x+0.5)*float64(cells)/float64(size) - 0.5
	i := min(max(int(math.Floor(p)), 0), cells-2)
	return i, p - float64(i)
}

// lineWeights are those of up to four numbers, from the first on, of a line of n
// that is interpolated f beyond the i-th: cubic inside, by a parabola in the
// outermost intervals, in a straight line beyond. There are no weights beyond the end.
func lineWeights(i, n int, f float64) (first int, w [4]float64) {
	switch {
	case n == 1:
		return 0, [4]float64{1}
	case n == 2 || f < 0 || f > 1:
		return i, [4]float64{1 - f, f}
	case i == 0:
		return 0, [4]float64{(1 - f) * (2 - f) / 2, f * (2 - f), -f * (1 - f) / 2}
	case i == n-2:
		return i - 1, [4]float64{-f * (1 - f) / 2, (1 - f) * (1 + f), f * (1 + f) / 2}
	}
	return i - 1, cubicWeights(f)
}

// cubicWeights are those of the cubic convolution of Keys 1981 (IEEE Trans.
// ASSP 29, 1153) with a = -1/2, exact for parabolas.
func cubicWeights(f float64) [4]float64 {
	f2, f3 := f*f, f*f*f
	return [4]float64{(-f3 + 2*f2 - f) / 2, (3*f3 - 5*f2 + 2) / 2, (-3*f3 + 4*f2 + f) / 2, (f3 - f2) / 2}
}
