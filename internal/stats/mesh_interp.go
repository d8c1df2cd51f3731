package stats

import "math"

// nodeStep is the spacing in px of the points of a row at which the cubic is
// evaluated; between them a straight line is within 1/1000 of a cell's own
// curvature.
const nodeStep = 8

// LevelRow writes the interpolated level of row y to dst, which is Width long.
func (m *Mesh) LevelRow(y int, dst []float32) { m.row(m.Level, y, dst) }

// NoiseRow writes the interpolated noise of row y to dst, which is Width long.
func (m *Mesh) NoiseRow(y int, dst []float32) { m.row(m.Noise, y, dst) }

// LevelAt is the interpolated level at a point.
func (m *Mesh) LevelAt(x, y float64) float64 { return m.point(m.Level, x, y) }

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

// row writes one interpolated row of a grid.
func (m *Mesh) row(grid []float32, y int, dst []float32) {
	at := m.nodesOf(grid, y)
	for k, prev := range at[:len(at)-1] {
		slope := (at[k+1] - prev) / nodeStep
		d := dst[k*nodeStep:]
		for i := range d[:min(nodeStep, len(d))] {
			d[i] = prev + float32(i)*slope
		}
	}
}

// SubtractRow takes the interpolated level off row y and returns the highest
// number that stood there before; the lowest there is when none stood there.
func (m *Mesh) SubtractRow(y int, row []float32) (top float32) {
	top = -math.MaxFloat32
	at := m.nodesOf(m.Level, y)
	for k, prev := range at[:len(at)-1] {
		slope := (at[k+1] - prev) / nodeStep
		d := row[k*nodeStep:]
		for _, v := range d[:min(nodeStep, len(d))] {
			if v > top && v <= math.MaxFloat32 {
				top = v
			}
		}
		// Eight differences that do not wait for each other: this is the loop
		// that every pixel of every frame goes through.
		if len(d) >= nodeStep {
			d = d[:nodeStep]
			d[0], d[1], d[2], d[3] = d[0]-prev, d[1]-(prev+slope), d[2]-(prev+2*slope), d[3]-(prev+3*slope)
			d[4], d[5], d[6], d[7] = d[4]-(prev+4*slope), d[5]-(prev+5*slope), d[6]-(prev+6*slope), d[7]-(prev+7*slope)
		} else {
			for i := range d {
				d[i] -= prev + float32(i)*slope
			}
		}
	}
	return top
}

// nodesOf interpolates the nodes of row y: along y first, once for each column
// of cells, then along x.
func (m *Mesh) nodesOf(grid []float32, y int) []float32 {
	m.column = resized(m.column, max(m.Cols, len(node{}.weight)))
	j, f := position(float64(y), m.Height, m.Rows)
	w := cubicWeights(f)
	for i := range m.Cols {
		m.column[i] = float32(gridCubic(grid, i, m.Cols, m.Rows, j, f, w))
	}
	m.at = resized(m.at, len(m.nodes))
	for k := range m.nodes {
		m.at[k] = m.nodes[k].of(m.column)
	}
	return m.at
}

// node is a point of a row as a weighted sum of four columns of cells.
type node struct {
	first  int
	weight [4]float32
}

func (n *node) of(column []float32) float32 {
	c := column[n.first:][:len(n.weight)]
	return n.weight[0]*c[0] + n.weight[1]*c[1] + n.weight[2]*c[2] + n.weight[3]*c[3]
}

// layNodes finds the weights of every node of a row: what the interpolation
// gives for a column of cells at 1 and all others at 0.
func (m *Mesh) layNodes() {
	n := (m.Width+nodeStep-1)/nodeStep + 1
	m.nodes = resized(m.nodes, n)
	unit := make([]float32, m.Cols)
	for k := range m.nodes {
		i, f := position(float64(k*nodeStep), m.Width, m.Cols)
		w := cubicWeights(f)
		p := &m.nodes[k]
		p.first = max(0, min(i-1, m.Cols-len(p.weight)))
		for c := range min(len(p.weight), m.Cols) {
			unit[p.first+c] = 1
			p.weight[c] = float32(gridCubic(unit, 0, 1, m.Cols, i, f, w))
			unit[p.first+c] = 0
		}
	}
}

func (m *Mesh) point(grid []float32, x, y float64) float64 {
	j, f := position(y, m.Height, m.Rows)
	w := cubicWeights(f)
	i, fx := position(x, m.Width, m.Cols)
	var four [4]float32
	var have int
	lo := max(0, i-1)
	for k := lo; k <= min(m.Cols-1, i+2); k++ {
		four[k-lo] = float32(gridCubic(grid, k, m.Cols, m.Rows, j, f, w))
		have++
	}
	return gridCubic(four[:have], 0, 1, have, i-lo, fx, cubicWeights(fx))
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

// gridCubic interpolates one line of a grid: cubic inside, in a straight line
// in the outermost intervals and beyond.
func gridCubic(grid []float32, start, stride, n, i int, f float64, w [4]float64) float64 {
	if n == 1 {
		return float64(grid[start])
	}
	g := func(k int) float64 { return float64(grid[start+k*stride]) }
	switch {
	case f < 0 || f > 1:
		return g(i) + (g(i+1)-g(i))*f
	case i == 0 && n > 2: // a parabola through the three outermost
		return g(0)*(1-f)*(2-f)/2 + g(1)*f*(2-f) - g(2)*f*(1-f)/2
	case i == n-2 && n > 2:
		return -g(i-1)*f*(1-f)/2 + g(i)*(1-f)*(1+f) + g(i+1)*f*(1+f)/2
	case n == 2:
		return g(i) + (g(i+1)-g(i))*f
	}
	return w[0]*g(i-1) + w[1]*g(i) + w[2]*g(i+1) + w[3]*g(i+2)
}

// cubicWeights are those of the cubic convolution of Keys 1981 (IEEE Trans.
// ASSP 29, 1153) with a = -1/2, exact for parabolas.
func cubicWeights(f float64) [4]float64 {
	f2, f3 := f*f, f*f*f
	return [4]float64{(-f3 + 2*f2 - f) / 2, (3*f3 - 5*f2 + 2) / 2, (-3*f3 + 4*f2 + f) / 2, (f3 - f2) / 2}
}
