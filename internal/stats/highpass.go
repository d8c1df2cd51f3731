package stats

import "math"

// Course is how many values make the smooth course that HighPass takes off: glow and
// gradients are no banding.
const Course = 31

// HighPass is x minus its mean over a running window, scaled so that white noise
// keeps its spread.
func HighPass(x []float64) []float64 {
	n := len(x)
	out := make([]float64, n)
	half := min(Course/2, (n-1)/2)
	sum := make([]float64, n+1)
	for i, v := range x {
		sum[i+1] = sum[i] + v
	}
	for i, v := range x {
		a, b := max(0, i-half), min(n, i+half+1)
		w := float64(b - a)
		out[i] = (v - (sum[b]-sum[a])/w) / math.Sqrt(1-1/w)
	}
	return out
}
