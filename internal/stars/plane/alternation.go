package plane

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Alternation is by how much odd rows stand above even ones on the background,
// and the same of columns: what a read-out in two fields or halves leaves in the
// noise, and no flat removes. On a colour mosaic neighbours see other light, and
// nothing is told.
func (p *Plane) Alternation() (rows, columns stats.Value) {
	if p.Green >= 0 {
		none := stats.Missing(stars.MosaicRows)
		return none, none
	}
	return stats.Alternation(p.rows), stats.Alternation(p.columns.means())
}

// lines are sums of some pixels of each column, of what is no star.
type lines struct{ sums, counts []float32 }

// lineStep is how far apart the pixels are that are looked at in a row or column:
// some 400 of them tell its mean to a twentieth of the noise. Odd steps look at odd
// and even pixels alike.
func lineStep(length int) int { return max(1, length/400) | 1 }

// startLines forgets the rows and columns of the picture before.
func (p *Plane) startLines() {
	p.rows = p.rows[:0]
	p.columns = lines{make([]float32, p.W), make([]float32, p.W)}
}

// addLine takes in row y, the background taken off, of which less than limit counts.
func (p *Plane) addLine(y int, limit float32) {
	row := p.R[y*p.W:][:p.W]
	var sum, n float64
	step := lineStep(p.W)
	for x := 0; x < len(row); x += step {
		if v := row[x]; v < limit && v > -limit { // false for what is no number
			sum += float64(v)
			n++
		}
	}
	p.rows = append(p.rows, meanOf(sum, n))
	if y%lineStep(p.H) == 0 {
		stats.AddWithin(p.columns.sums, p.columns.counts, row, limit)
	}
}

func (l lines) means() (out []float64) {
	for x, sum := range l.sums {
		out = append(out, meanOf(float64(sum), float64(l.counts[x])))
	}
	return out
}

// meanOf is NaN where too few pixels count.
func meanOf(sum, n float64) float64 {
	if n < 16 {
		return math.NaN()
	}
	return sum / n
}
