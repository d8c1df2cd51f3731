package night

import (
	"math"

	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// ditherPx is the rms distance of the subs' pointings from their median, px;
// NaN when fewer than three shifts were measured. A pier flip turns the shift
// around and is left out by comparing only subs on the commoner side.
func ditherPx(all []*subs.Sub) float64 {
	var x, y [2][]float64
	for _, s := range all {
		if s.Align.ShiftX.OK() && s.Align.ShiftY.OK() {
			side := 0
			if s.Align.Flipped {
				side = 1
			}
			x[side] = append(x[side], s.Align.ShiftX.V)
			y[side] = append(y[side], s.Align.ShiftY.V)
		}
	}
	side := 0
	if len(x[1]) > len(x[0]) {
		side = 1
	}
	n := len(x[side])
	if n < 3 {
		return math.NaN()
	}
	mx, my := stats.Median(x[side]), stats.Median(y[side])
	sum := 0.0
	for i := range n {
		sum += math.Pow(x[side][i]-mx, 2) + math.Pow(y[side][i]-my, 2)
	}
	return math.Sqrt(sum / float64(n))
}
