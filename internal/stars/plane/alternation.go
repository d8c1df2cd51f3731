package plane

import (
	"math"

	"fitsqa/internal/stats"
)

// Alternation is by how much odd rows stand above even ones on the background,
// and the same of columns, for a background of so much noise: what a read-out in two fields or halves leaves in the
// noise, and no flat removes. On a colour mosaic neighbours see other light, and
// nothing is told.
func (p *Plane) Alternation(noise float64) (rows, columns stats.Value) {
	if p.Green >= 0 {
		none := stats.Missing("neighbouring rows of a colour mosaic see other colours")
		return none, none
	}
	return stats.Alternation(p.lines(p.H, p.W, noise, func(line, at int) (int, int) { return at, line })),
		stats.Alternation(p.lines(p.W, p.H, noise, func(line, at int) (int, int) { return line, at }))
}

// lines are the means of rows or columns above the background, of what is no star.
func (p *Plane) lines(lines, length int, noise float64, place func(line, at int) (x, y int)) []float64 {
	const most = 400 // samples of a line tell its mean to a twentieth of the noise
	// Odd steps look at odd and even pixels of the line alike.
	step := max(1, length/most) | 1
	profile := make([]float64, lines)
	for l := range profile {
		var sum, n float64
		for at := 0; at < length; at += step {
			if x, y := place(l, at); p.Trusted(x, y) {
				if v := float64(p.R[y*p.W+x]); math.Abs(v) < 3*noise {
					sum += v
					n++
				}
			}
		}
		profile[l] = math.NaN()
		if n >= 16 {
			profile[l] = sum / n
		}
	}
	return profile
}
