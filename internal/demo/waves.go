package demo

import "math"

// waves are the sum of some at a point in fractions of the frame: each is its wave numbers
// along x and y in periods per frame, and its phase.
func waves(all [][3]float64, u, v float64) (sum float64) {
	for _, w := range all {
		sum += math.Sin(2*math.Pi*(w[0]*u+w[1]*v) + w[2])
	}
	return sum
}
