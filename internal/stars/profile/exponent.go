package profile

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stats"
)

// exponent is the one 1/beta of a field's stars.
type exponent struct {
	q        float64
	misfit   float64 // of the best trial
	err      float64 // standard error of q
	widthErr float64 // error of ln FWHM, of all stars alike, that it makes
	lightErr float64 // of ln of the light by the filter's answer, with its sign
}

// trial is what an exponent leaves of the stars it was tried on.
type trial struct {
	q      float64
	misfit []float64 // of each star, n ln(chi²/n), n its pixels
	width  []float64 // of each star, ln of its FWHM
	answer []float64 // of each star, ln of the share of its light that the filter answers with
	fits   []params  // of each star
}

// trials are those of a search, in rising order of q.
type trials struct {
	tried  []trial
	pixels []float64 // of each star
	failed []bool    // whether each star could not be fitted at one of them: it takes no part
}

func (t *trials) add(one trial) {
	at := 0
	for at < len(t.tried) && t.tried[at].q < one.q {
		at++
	}
	t.tried = slices.Insert(t.tried, at, one)
}

// nearest are the fits of the trial whose exponent is nearest, seeds before the
// first: from those of a far one, stars between the green pixels of a mosaic may end
// at a lesser minimum.
func (t *trials) nearest(q float64, seeds []params) []params {
	if len(t.tried) == 0 {
		return seeds
	}
	return slices.MinFunc(t.tried, func(a, b trial) int {
		return cmp.Compare(math.Abs(a.q-q), math.Abs(b.q-q))
	}).fits
}

// points are the exponents, the misfits of all stars together, and the number of
// the lowest.
func (t *trials) points() (q, misfit []float64, low int) {
	for k, one := range t.tried {
		var sum float64
		for i, v := range one.misfit {
			if !t.failed[i] {
				sum += v
			}
		}
		q, misfit = append(q, one.q), append(misfit, sum)
		if misfit[k] < misfit[low] {
			low = k
		}
	}
	return q, misfit, low
}

// fitted is the number of pixels of the stars that take part.
func (t *trials) fitted() (n float64) {
	for i, failed := range t.failed {
		if !failed {
			n += t.pixels[i]
		}
	}
	return n
}

// vertex is that of the parabola through the lowest three points, of which the
// middle one's number is m.
func (t *trials) vertex() (at, curve float64, m int) {
	q, misfit, low := t.points()
	m = min(max(low, 1), len(q)-2)
	at, curve = vertex(q[m-1:m+2], misfit[m-1:m+2])
	return at, curve, m
}

const (
	qMax         = 0.6
	exponentStep = 0.002 // of q, under which the search ends: 0.1 % of the width
	exponentSpan = 0.02  // of q, least distance over which a curvature is taken
	maxParabolas = 5
)

// exponent finds the 1/beta that fits the brightest stars best (see search). What is made small is the sum of n ln(chi²/n) over the
// stars: minus twice the logarithm of the likelihood where the noise of each
// star is its own unknown, so that one odd star does not decide. The curvature
// of that sum gives the error of the exponent.
func (sh *Shaper) exponent(list []stars.Star, bright []int, s detect.Seeing, start params) exponent {
	seeds := make([]params, len(bright))
	for k, i := range bright {
		seeds[k] = start.at(&list[i])
	}
	t := trials{pixels: make([]float64, len(bright)), failed: make([]bool, len(bright))}
	try := func(q float64) {
		pars := slices.Clone(t.nearest(q, seeds))
		each := func() []float64 { return make([]float64, len(bright)) }
		one := trial{q, each(), each(), each(), pars}
		for k, i := range bright {
			if t.failed[k] {
				continue
			}
			sh.buf = stamp(sh.p, sh.buf, list[i].X, list[i].Y, stampRadius(s))
			pars[k][7] = q
			if !sh.f.fit(sh.buf, &pars[k]) {
				t.failed[k] = true
				continue
			}
			n := float64(len(sh.buf))
			t.pixels[k] = n
			one.misfit[k], one.width[k] = n*math.Log(sh.f.chi2/n), sh.f.lnWidth(&pars[k])
			if !sh.f.trail {
				one.answer[k] = math.Log(answered(&pars[k], s))
			}
		}
		t.add(one)
	}
	best := t.search(try)
	t.errs(&best)
	return best
}

// search tries exponents: first on a coarse grid from the Gaussian to beta = 1.7, then by
// parabolas through the lowest three points. These are of the geometric mean of the stars'
// chi² a pixel: its logarithm, the misfit, rises ever more slowly far from where it is lowest,
// and parabolas through far points lead beyond that, to a Gaussian for a beta of 15.
func (t *trials) search(try func(q float64)) (best exponent) {
	for _, q := range []float64{0.3, 0.15, 0.45} {
		try(q)
	}
	switch _, _, low := t.points(); low {
	case 0:
		try(qMin)
	case 2:
		try(qMax)
	}
	for n := 0; ; n++ {
		q, misfit, low := t.points()
		best.misfit = misfit[low]
		m, all := min(max(low, 1), len(q)-2), t.fitted()
		var mean [3]float64
		for k := range mean {
			mean[k] = math.Exp((misfit[m-1+k] - best.misfit) / all)
		}
		best.q, _ = vertex(q[m-1:m+2], mean[:])
		if n == maxParabolas || nearest(q, best.q) < exponentStep {
			return best
		}
		try(best.q)
	}
}

// errs gives the best exponent its standard error and what this makes in other figures.
// Trials too near the lowest to tell a curvature are dropped.
func (t *trials) errs(of *exponent) {
	_, _, low := t.points()
	best := t.tried[low].q
	t.tried = slices.DeleteFunc(t.tried, func(o trial) bool { return o.q != best && math.Abs(o.q-best) < exponentSpan })
	_, curve, m := t.vertex()
	// The misfit is -2 ln L, and curve half its second derivative: the inverse of the
	// variance, which is at most that of one that may be anywhere.
	of.err = min(1/math.Sqrt(curve), (qMax-qMin)/math.Sqrt(12))
	if q, misfit, low := t.points(); low == 0 || low == len(q)-1 {
		// At an end of the range the likelihood falls off exponentially from there.
		k := min(low, len(q)-2)
		of.err = min(of.err, 2*math.Abs((q[k+1]-q[k])/(misfit[k+1]-misfit[k])))
	}
	before, after := t.tried[m-1], t.tried[m+1]
	var width, answer []float64 // their slopes by q
	for k, failed := range t.failed {
		if !failed {
			width = append(width, (after.width[k]-before.width[k])/(after.q-before.q))
			answer = append(answer, (after.answer[k]-before.answer[k])/(after.q-before.q))
		}
	}
	if len(width) > 0 {
		of.widthErr, of.lightErr = math.Abs(stats.Median(width))*of.err, -stats.Median(answer)*of.err
	}
}

func nearest(points []float64, x float64) float64 {
	d := math.Inf(1)
	for _, p := range points {
		d = min(d, math.Abs(p-x))
	}
	return d
}

// vertex is the lowest point of the parabola a + curve x² through three points
// in rising order, kept between the outer two.
func vertex(x, y []float64) (at, curve float64) {
	d1, d2 := (y[1]-y[0])/(x[1]-x[0]), (y[2]-y[1])/(x[2]-x[1])
	curve = (d2 - d1) / (x[2] - x[0])
	if !(curve > 0) {
		if y[0] < y[2] {
			return x[0], 0
		}
		return x[2], 0
	}
	return min(max((x[0]+x[1])/2-d1/(2*curve), x[0]), x[2]), curve
}
