package profile

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stats"
)

// The filter's answer goes with the width of the stars under it, and this with the place:
// a field that is tilted, or curved, has wide stars at one side and narrow ones at the
// other. The scale from the filter's answer to all the light is therefore one over the
// field, and the bright stars tell it around them: the best linear guess from what they
// tell, from how much they differ beyond their errors, and from how far away they are
// (Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, chapters 2 and 5).
// Where they do not differ, or do so one beside the other, as stars no wider than a pixel
// do by their places in it, it is one number.

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

// besides are the sd by which stars side by side differ beyond their errors that are tried,
// where they are narrower than wellSampled.
var besides = []float64{0, 0.04, 0.12, 0.36}

// wellSampled, px: in wider stars it makes no difference to the filter where in a pixel
// their middle lies, nor in a mosaic between which four green ones.
const wellSampled = 2.0

// scale is ln of the light over the filter's answer, over the field.
type scale struct {
	usual stats.Value
	x, y  []float64 // of the stars that tell
	pull  []float64 // of each on the scale at its place, nil where they do not differ
	reach float64   // px
}

// scaleOf is the scale that stars of a usual width at some places of a frame tell, with
// their weights (the inverse variances) and their errors.
func scaleOf(x, y, ratio, w, errs []float64, usual float64, width, height int) scale {
	if len(ratio) == 0 {
		return scale{usual: stats.Value{Err: uncalibrated}}
	}
	n := min(len(ratio), mostTelling)
	s := scale{usual: stats.MedianValue(ratio, w, errs, ""), x: x[:n], y: y[:n], reach: alikeWithin * float64(max(width, height))}
	if n < fewestTelling {
		return s
	}
	alike, best := told{likely: math.Inf(-1)}, told{likely: math.Inf(-1)}
	tried := besides
	if usual > wellSampled {
		tried = besides[:1]
	}
	for _, beside := range tried {
		if c := s.told(0, beside, ratio, w); c.likely > alike.likely {
			alike = c
		}
		for _, spread := range spreads {
			if c := s.told(spread, beside, ratio, w); c.likely > best.likely {
				best = c
			}
		}
	}
	if best.likely > alike.likely+differSurely {
		s.usual = best.mean()
		best.pull.ScaleVec(best.spread*best.spread, &best.pull)
		s.pull = best.pull.RawVector().Data
	}
	return s
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

func (s *scale) told(spread, beside float64, ratio, w []float64) told {
	n := len(s.x)
	c := told{spread: spread, likely: math.Inf(-1)}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			cov.SetSym(i, j, spread*spread*s.near(i, s.x[j], s.y[j]))
		}
		cov.SetSym(i, i, cov.At(i, i)+1/w[i]+beside*beside)
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

// mean is the stars' mean. Its error is that of the scale as a whole, by how well each star
// is told by all the others.
func (c *told) mean() stats.Value {
	var inverse mat.SymDense
	if c.chol.InverseTo(&inverse) != nil {
		return stats.Value{V: c.middle, Err: uncalibrated}
	}
	var off, w, errs []float64
	for i := range c.pull.Len() {
		v := 1 / inverse.At(i, i)
		off, w, errs = append(off, c.pull.AtVec(i)*v), append(w, 1/v), append(errs, math.Sqrt(v))
	}
	return stats.Known(c.middle, stats.MedianValue(off, w, errs, "").Err, len(off))
}

// near is how far the scale at a place goes with that of a star.
func (s *scale) near(i int, x, y float64) float64 {
	dx, dy := (x-s.x[i])/s.reach, (y-s.y[i])/s.reach
	return math.Exp(-(dx*dx + dy*dy) / 2)
}

// at is the scale at a place.
func (s *scale) at(x, y float64) float64 {
	v := s.usual.V
	for i, p := range s.pull {
		v += p * s.near(i, x, y)
	}
	return v
}
