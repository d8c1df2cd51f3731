package stats

import "math"

// Alternation is by how much the odd lines (rows or columns, counted from 0) of
// a profile stand above the even ones, in the profile's unit: what a read-out of
// two halves or fields leaves. Every line is compared with the mean of its two
// neighbours, so that slopes do not count, and the median taken, so that stars
// and defects in some lines do not.
//
// The error takes the lines' own noise for white: the mean of n such
// comparisons then has the variance 4 sigma²/n where one of them has 1.5 sigma²,
// and a median 1.57 times that of a mean.
func Alternation(profile []float64) Value {
	var odd []float64
	for i := 1; i+1 < len(profile); i++ {
		d := profile[i] - (profile[i-1]+profile[i+1])/2
		if i%2 == 0 {
			d = -d
		}
		if !math.IsNaN(d) {
			odd = append(odd, d)
		}
	}
	if len(odd) < 8 {
		return Missing(FewLines)
	}
	err := MADSigma(odd) * math.Sqrt(4/1.5*1.57/float64(len(odd)))
	return Known(Median(odd), err, len(odd))
}
