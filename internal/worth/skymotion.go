package worth

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"fitsqa/internal/stats"
)

// motion is how cells change from sub to sub.
type motion struct {
	moves [][][2]float64 // of each sub at each cell, px of the sensor
	sky   [][]float64    // what the slope of the mean map makes of each cell of each sub
	less  [][]float64    // by how much each cell of each sub changed less than the slope of the mean would make it
	// What changes from sub to sub over the whole frame, taken off less: the sky's level and
	// slopes, and its transparency; by cells of so much weight.
	whole  [][]float64
	weight []float64
}

// motion compares every sub that is tied with the mean of all.
func (s *Seen) motion() motion {
	var tied []cellMap
	var levels [][]float64
	for _, t := range s.maps {
		if t.tied && t.place.A > 0.7 { // turned fields apart: their slopes are others
			tied, levels = append(tied, t), append(levels, t.levels)
		}
	}
	var m motion
	if len(tied) < fewestTied {
		return m
	}
	mean := meanOf(levels)
	m.moves, m.sky, m.less = make([][][2]float64, len(tied)), make([][]float64, len(tied)), make([][]float64, len(tied))
	for c := range mean {
		gx, gy := s.slope(mean, c)
		cx, cy := s.centre(c)
		var x, y []float64
		for _, t := range tied {
			p := t.place
			x, y = append(x, p.A*cx+p.B*cy+p.C), append(y, p.D*cx+p.E*cy+p.F)
		}
		mx, my := stats.Mean(x), stats.Mean(y)
		for k, t := range tied {
			m.moves[k] = append(m.moves[k], [2]float64{x[k] - mx, y[k] - my})
			sky := gx*(x[k]-mx) + gy*(y[k]-my)
			m.sky[k] = append(m.sky[k], sky)
			m.less[k] = append(m.less[k], sky-(t.levels[c]-mean[c]))
		}
	}
	m.weight = weigh(m.less)
	open := make([][]float64, 4)
	for c, w := range m.weight {
		u, v := s.share(c)
		for i, x := range []float64{1, u, v, mean[c]} {
			open[i] = append(open[i], x*w)
		}
	}
	m.whole = orthonormal(open)
	for k := range m.less {
		m.steady(m.less[k])
		m.steady(m.sky[k])
	}
	return m
}

// steady takes off what changes over the whole frame.
func (m *motion) steady(cells []float64) {
	floats.Mul(cells, m.weight)
	free(cells, m.whole)
	floats.Div(cells, m.weight)
}

// weigh cells by how little they scatter: under a nebula the slope does not say all. One
// that happens to scatter little tells no more than others.
func weigh(rest [][]float64) []float64 {
	weight := make([]float64, len(rest[0]))
	for c := range weight {
		square := 1e-12
		for _, r := range rest {
			square += r[c] * r[c] / float64(len(rest))
		}
		weight[c] = 1 / math.Sqrt(square)
	}
	most := 2 * stats.Median(weight)
	for c, w := range weight {
		weight[c] = min(w, most)
	}
	return weight
}

// slopeShare is how far the slope of the mean map, over cells and dithers, may be off the
// slope of the sky (own estimate: the map's bend over two cells).
const slopeShare = 0.05

// height of a glow of a shape by some cells. Its error by chance is the largest of three: by
// leaving out sub by sub, and cell by cell (what the sensor's pattern makes of a cell is in
// all subs alike), and by the cells' scatter. By what is wrong with the sky's slope it may
// be off beside.
func (m motion) height(s *Seen, shape []float64, cells []int) (f trial) {
	var slope, less, sky [][]float64
	all := make([]float64, len(shape))
	for k := range m.less {
		for c := range shape {
			gx, gy := s.slope(shape, c)
			all[c] = gx*m.moves[k][c][0] + gy*m.moves[k][c][1]
		}
		m.steady(all)
		slope, less, sky = append(slope, of(all, cells)), append(less, of(m.less[k], cells)), append(sky, of(m.sky[k], cells))
	}
	weight := make([]float64, len(cells))
	floats.AddConst(1, weight)
	for range 4 { // what is left in the cells gives them their weights
		var rest [][]float64
		f, rest = fitted(slope, less, weight)
		ofSky, _ := fitted(slope, sky, weight)
		f.wrong = slopeShare * math.Abs(ofSky.height)
		weight = weigh(rest)
	}
	return f
}

func of(all []float64, cells []int) []float64 {
	some := make([]float64, len(cells))
	for i, c := range cells {
		some[i] = all[c]
	}
	return some
}
