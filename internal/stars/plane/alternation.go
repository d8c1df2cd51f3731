package plane

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Alternation is by how much odd rows stand above even ones on the background,
// and the same of columns: what a read-out in two fields or halves leaves in the
// noise, and no flat removes. On a colour mosaic neighbours see other light, and
// nothing is told.
func (p *Plane) Alternation() (rows, columns stats.Value) {
	if p.Green >= 0 {
		none := stats.Missing("neighbouring rows of a colour mosaic see other colours")
		return none, none
	}
	return stats.Alternation(means(p.rows)), stats.Alternation(means(p.columns))
}

// line sums up some pixels of a row or a column, of what is no star.
type line struct{ sum, n float64 }

// lineStep is how far apart the pixels are that are looked at in a line: some 400
// of a line tell its mean to a twentieth of the noise. Odd steps look at odd and
// even pixels alike.
func lineStep(length int) int { return max(1, length/400) | 1 }

// startLines forgets the lines of the picture before.
func (p *Plane) startLines() {
	p.rows, p.columns = slices.Grow(p.rows[:0], p.H)[:p.H], slices.Grow(p.columns[:0], p.W)[:p.W]
	clear(p.rows)
	clear(p.columns)
}

// addLines takes in row y, the background taken off, of which less than limit counts.
func (p *Plane) addLines(y int, limit float32) {
	row := p.R[y*p.W:][:p.W]
	here := &p.rows[y]
	for x := 0; x < len(row); x += lineStep(p.W) {
		here.add(row[x], limit)
	}
	if y%lineStep(p.H) == 0 {
		columns := p.columns[:len(row)]
		for x, v := range row {
			columns[x].add(v, limit)
		}
	}
}

func (l *line) add(v, limit float32) {
	if v < limit && v > -limit { // false for what is no number
		l.sum += float64(v)
		l.n++
	}
}

// means are those of lines; NaN where too few pixels count.
func means(lines []line) []float64 {
	out := make([]float64, len(lines))
	for i, l := range lines {
		out[i] = math.NaN()
		if l.n >= 16 {
			out[i] = l.sum / l.n
		}
	}
	return out
}
