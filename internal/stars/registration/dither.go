package registration

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// dither is the rms distance of rests from the smooth path that they follow,
// by the steps between consecutive ones: of three in a row the second difference
// takes out a path however it curves slowly, and is that of three dithers with a
// variance of 1 + 4 + 1 times theirs (von Neumann 1941, Ann. Math. Statist. 12, 367,
// for first differences; from memory). No times are needed, only the order.
func dither(stretches [][]pointing) stats.Value {
	var sum float64
	triples, n := 0, 0
	for _, st := range stretches {
		m, squares := secondDifferences(restsOf(st))
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

// secondDifferences of pointings in a row: how many, and the sum of their squares over six.
func secondDifferences(row []pointing) (n int, sum float64) {
	for i := 1; i+1 < len(row); i++ {
		x, y := row[i-1].x-2*row[i].x+row[i+1].x, row[i-1].y-2*row[i].y+row[i+1].y
		sum += (x*x + y*y) / 6
		n++
	}
	return n, sum
}
