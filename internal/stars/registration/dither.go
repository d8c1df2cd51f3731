package registration

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// dither is the rms distance of rests from the smooth path that they follow,
// by the steps between consecutive ones: how far the middle one of three in a row lies from
// the line between the others takes out a path however it curves slowly (von Neumann 1941,
// Ann. Math. Statist. 12, 367, for first differences; from memory). Without times they are
// taken to follow each other evenly.
func dither(stretches [][]pointing) stats.Value {
	var sum float64
	triples, n := 0, 0
	for _, st := range stretches {
		m, squares := offNeighbours(restsOf(st))
		triples, sum = triples+m, sum+squares
		if m > 0 {
			n += len(st)
		}
	}
	if triples == 0 {
		return stats.Missing(stars.FewInRow)
	}
	size := math.Sqrt(sum / float64(triples))
	// The rms of two normal coordinates; triples that overlap tell 18/35 of what so
	// many free ones would (their correlations of 2/3 and 1/6, squared and summed).
	free := max(1, float64(triples)*18/35)
	return stats.Known(size, size/(2*math.Sqrt(free)), n)
}

// offNeighbours is how far pointings lie from where their neighbours in a row have the path
// at their time: how many, and the sum of the squares in variances of one.
func offNeighbours(row []pointing) (n int, sum float64) {
	for i := 1; i+1 < len(row); i++ {
		a, b, c := row[i-1], row[i], row[i+1]
		share := 0.5
		if c.hours > a.hours {
			share = (b.hours - a.hours) / (c.hours - a.hours)
		}
		x, y := b.x-a.x-share*(c.x-a.x), b.y-a.y-share*(c.y-a.y)
		sum += (x*x + y*y) / (1 + share*share + (1-share)*(1-share))
		n++
	}
	return n, sum
}
