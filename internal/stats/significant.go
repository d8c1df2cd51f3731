package stats

import "math"

// Significant is x to n significant digits, for sentences: a header's 60.0000152 s are
// 60 s. Numbers that are 0, infinite or NaN stay as they are.
func Significant(x float64, n int) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x
	}
	places := n - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	if places < 0 {
		unit := math.Pow10(-places)
		return math.Round(x/unit) * unit
	}
	unit := math.Pow10(places) // a division by it is exact to the last digit, a product with 0.01 is not
	return math.Round(x*unit) / unit
}
