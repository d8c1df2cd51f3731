package stats

import (
	"errors"
	"math"
)

// Line is a straight line y = A + B x fitted by weighted least squares.
type Line struct {
	A, B       float64
	ErrA, ErrB float64 // standard errors; NaN when two points leave nothing to judge by and the points have no known errors
	Cov        float64 // covariance of A and B
	RMS        float64 // root mean square of the unweighted residuals
	Chi2       float64 // sum of squared residuals over their variances; 0 for exact lines
	N          int
}

// errDegenerate says that the points do not fix a line.
var errDegenerate = errors.New("a line needs two points at different x")

// FitLine fits a line to points whose standard errors sigma are known (Press
// et al. 1992, Numerical Recipes, section 15.2; from memory). With sigma nil
// all points weigh the same and the errors come from the residuals. Where
// known errors are too small for the scatter (chi² over its degrees of freedom
// above 1), the errors of the line are widened to match.
func FitLine(x, y, sigma []float64) (Line, error) {
	n := len(x)
	weight := func(i int) float64 {
		if sigma == nil {
			return 1
		}
		return 1 / (sigma[i] * sigma[i])
	}
	var w, wx, wy float64
	for i := range n {
		wi := weight(i)
		w += wi
		wx += wi * x[i]
		wy += wi * y[i]
	}
	mx, my := wx/w, wy/w
	var sxx, sxy float64
	for i := range n {
		wi, d := weight(i), x[i]-mx
		sxx += wi * d * d
		sxy += wi * d * (y[i] - my)
	}
	if n < 2 || !(sxx > 0) || math.IsInf(w, 0) {
		return Line{}, errDegenerate
	}
	l := Line{B: sxy / sxx, N: n}
	l.A = my - l.B*mx
	var rss float64
	for i := range n {
		r := y[i] - l.At(x[i])
		rss += r * r
		l.Chi2 += weight(i) * r * r
	}
	l.RMS = math.Sqrt(rss / float64(n))
	scale := 1.0
	switch dof := float64(n - 2); {
	case dof > 0 && (sigma == nil || l.Chi2 > dof):
		scale = l.Chi2 / dof
	case dof == 0 && sigma == nil:
		scale = math.NaN()
	}
	l.ErrB = math.Sqrt(scale / sxx)
	l.ErrA = math.Sqrt(scale * (1/w + mx*mx/sxx))
	l.Cov = -scale * mx / sxx
	return l, nil
}

// At is the line's height at x.
func (l Line) At(x float64) float64 { return l.A + l.B*x }

// ErrAt is the standard error of the line's height at x.
func (l Line) ErrAt(x float64) float64 {
	return math.Sqrt(max(l.ErrA*l.ErrA+x*x*l.ErrB*l.ErrB+2*x*l.Cov, 0))
}
