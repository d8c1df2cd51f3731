package profile

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
)

// The filter's answer goes with the width of the stars under it, and this with the place:
// a field that is tilted, or curved, has wide stars at one side and narrow ones at the
// other. The scale from the filter's answer to all the light is therefore one over the
// field. By how much it is higher at one place than at another the widths of the fitted
// stars tell (see answered), of which there are more than such as stand so alone that their
// light is known, and which neighbours change less. The scale around them is the best linear
// guess from what they tell, from how much they differ beyond their errors, and from how far
// away they are (Rasmussen and Williams 2006, Gaussian Processes for Machine Learning,
// chapters 2 and 5). Where they do not differ, or do so one beside the other, as stars no
// wider than a pixel do by their places in it, and those do with neighbours in their wings,
// it is one number; so it is where they differ by no more than a star's systematic error.

const (
	// alikeWithin is the distance, in shares of the frame's longer side, over which widths
	// go together: that of a slope or a bowl over all of it.
	alikeWithin = 0.5
	// fewestTelling stars tell that they differ; more than mostTelling tell no more.
	fewestTelling, mostTelling = 6, 30
	// differSurely is by how much ln of the likelihood has to be higher that they do: one in twelve
	// fields of stars that do not differ has as much, and differs hardly then.
	differSurely = 1.0
)

// spreads are the sd of the scale over a field that are tried: from what the systematic
// error of a star hides, to the scale of images thrice as wide.
var spreads = []float64{0.02, 0.04, 0.08, 0.16, 0.32, 0.64}

// besides are the sd by which stars side by side differ beyond their errors that are tried.
var besides = []float64{0, 0.04, 0.12, 0.36}

// scale is ln of the light over the filter's answer, over the field, but for what is the
// same everywhere.
type scale struct {
	middle float64   // of the stars that tell,
	err    float64   // and its error by theirs
	x, y   []float64 // of these
	pull   []float64 // of each on the scale at its place, nil where they do not differ
	reach  float64   // px
}

// scaleOf is the scale that the widths of fitted stars tell, the brightest first.
func scaleOf(fits []fitted, s detect.Seeing, width, height int) scale {
	fits = fits[:min(len(fits), mostTelling)]
	sc := scale{reach: alikeWithin * float64(max(width, height))}
	var values, variances []float64
	for i := range fits {
		f := &fits[i]
		sc.x, sc.y = append(sc.x, f.p[0]), append(sc.y, f.p[1])
		values, variances = append(values, -math.Log(answered(&f.p, s))), append(variances, f.widthVar+stars.Systematic*stars.Systematic)
	}
	var chi2 float64
	sc.middle, sc.err, chi2 = together(values, variances)
	if len(fits) < fewestTelling || chi2 <= 1 {
		return sc
	}
	alike, best := told{likely: math.Inf(-1)}, told{likely: math.Inf(-1)}
	for _, beside := range besides {
		if c := sc.told(0, beside, values, variances); c.likely > alike.likely {
			alike = c
		}
		for _, spread := range spreads {
			if c := sc.told(spread, beside, values, variances); c.likely > best.likely {
				best = c
			}
		}
	}
	if best.likely > alike.likely+differSurely {
		sc.middle = best.middle
		best.pull.ScaleVec(best.spread*best.spread, &best.pull)
		sc.pull = best.pull.RawVector().Data
	}
	return sc
}

// together is the mean of values, its error, and by how much they differ, in variances: 1
// where these explain it.
func together(values, variances []float64) (mean, err, chi2 float64) {
	var sum, weights float64
	for i, v := range values {
		sum, weights = sum+v/variances[i], weights+1/variances[i]
	}
	mean = sum / weights
	for i, v := range values {
		chi2 += (v - mean) * (v - mean) / variances[i] / float64(len(values)-1)
	}
	return mean, 1 / math.Sqrt(weights), chi2
}

// answered is the share of a star's light that the filter answers with, but for what is the
// same of all: the mean of the filter, a Gaussian, over the star's profile, which over a
// round one is (beta-1) e^c E(c), E the exponential integral of order beta and c the square
// of the ratio of their sizes. Of an elongated one it is between those of both axes.
func answered(p *params, s detect.Seeing) float64 {
	det := p[4]*p[6] - p[5]*p[5]
	const pixel = 2 * math.Ln2 / 12 // what a pixel adds to the square of a half width
	xx, xy, yy := p[6]/det+pixel, -p[5]/det, p[4]/det+pixel
	// The squared half widths over twice the filter's variances along the axes that both
	// have in common.
	form := s.Xx*s.Yy - s.Xy*s.Xy
	half := (xx*s.Yy - 2*xy*s.Xy + yy*s.Xx) / form / 4
	root := math.Sqrt(max(0, half*half-(xx*yy-xy*xy)/form/4))
	k, beta := math.Exp2(p[7])-1, 1/p[7]
	of := func(ratio float64) float64 { return (beta - 1) * exponentialIntegral(beta, ratio/k) }
	return math.Sqrt(of(half+root) * of(half-root))
}

// exponentialIntegral is that of order n at x, times e^x (Abramowitz and Stegun 1964,
// 5.1.52, within 1/n^4).
func exponentialIntegral(n, x float64) float64 {
	r := 1 / ((x + n) * (x + n))
	return (1 + n*r*(1+r*((n-2*x)+r*(6*x*x-8*n*x+n*n)))) * math.Sqrt(r)
}

// told is what stars tell together of a scale that differs by a spread over the field, and
// by some of it from star to star.
type told struct {
	spread float64
	chol   mat.Cholesky // of their covariance
	likely float64      // ln of the likelihood, but for a constant
	middle float64      // their mean
	rest   mat.VecDense // by how much they differ from it
	pull   mat.VecDense // of each on the scale at its place, over the variance of that
}

func (s *scale) told(spread, beside float64, ratio, variances []float64) told {
	n := len(s.x)
	c := told{spread: spread, likely: math.Inf(-1)}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			cov.SetSym(i, j, spread*spread*s.near(i, s.x[j], s.y[j]))
		}
		cov.SetSym(i, i, cov.At(i, i)+variances[i]+beside*beside)
	}
	if !c.chol.Factorize(cov) {
		return c
	}
	ones, values := mat.NewVecDense(n, nil), mat.NewVecDense(n, ratio[:n])
	for i := range n {
		ones.SetVec(i, 1)
	}
	var shares mat.VecDense // of each star in the mean
	if c.chol.SolveVecTo(&shares, ones) != nil {
		return c
	}
	c.middle = mat.Dot(&shares, values) / mat.Dot(&shares, ones)
	c.rest.AddScaledVec(values, -c.middle, ones)
	if c.chol.SolveVecTo(&c.pull, &c.rest) == nil {
		c.likely = -(mat.Dot(&c.rest, &c.pull) + c.chol.LogDet()) / 2
	}
	return c
}

// near is how far the scale at a place goes with that of a star.
func (s *scale) near(i int, x, y float64) float64 {
	dx, dy := (x-s.x[i])/s.reach, (y-s.y[i])/s.reach
	return math.Exp(-(dx*dx + dy*dy) / 2)
}

func (s *scale) at(x, y float64) float64 {
	v := s.middle
	for i, p := range s.pull {
		v += p * s.near(i, x, y)
	}
	return v
}
