package stars

import (
	"math"
	"slices"
)

// exponent is the one 1/beta of a field's stars.
type exponent struct {
	q        float64
	misfit   float64 // of the best trial
	widthErr float64 // error of ln FWHM, of all stars alike, that q's error makes
	err      float64 // standard error of q
}

// trial is what an exponent leaves of the stars it was tried on.
type trial struct {
	q      float64
	misfit []float64 // of each star, n ln(chi²/n), n its pixels
	width  []float64 // of each star, ln of its FWHM
}

const (
	qMax         = 0.6
	exponentStep = 0.002 // of q, under which the search ends: 0.1 % of the width
	exponentSpan = 0.02  // of q, least distance over which a curvature is taken
	maxParabolas = 5
)

// exponent finds the 1/beta that fits the brightest stars best: first on a
// coarse grid from the Gaussian to beta = 1.7, then by parabolas through the
// lowest three points. What is made small is the sum of n ln(chi²/n) over the
// stars: minus twice the logarithm of the likelihood where the noise of each
// star is its own unknown, so that one odd star does not decide. The curvature
// of that sum gives the error of the exponent.
func (ms *Measurer) exponent(list []Star, bright []int, s seeing, start params) exponent {
	pars := make([]params, len(bright))
	failed := make([]bool, len(bright)) // at any exponent: takes no part
	for k, i := range bright {
		pars[k] = start.at(&list[i])
	}
	var tried []trial // q rising
	try := func(q float64) {
		t := trial{q, make([]float64, len(bright)), make([]float64, len(bright))}
		for k, i := range bright {
			if failed[k] {
				continue
			}
			ms.buf = ms.p.stamp(ms.buf, list[i].X, list[i].Y, stampRadius(s))
			pars[k][7] = q
			if !ms.f.fit(ms.buf, &pars[k]) {
				failed[k] = true
				continue
			}
			n := float64(len(ms.buf))
			t.misfit[k], t.width[k] = n*math.Log(ms.f.chi2/n), ms.f.lnWidth(&pars[k])
		}
		at := 0
		for at < len(tried) && tried[at].q < q {
			at++
		}
		tried = slices.Insert(tried, at, t)
	}
	sum := func(of []float64) (total float64) {
		for k, v := range of {
			if !failed[k] {
				total += v
			}
		}
		return total
	}
	points := func() (q, misfit []float64, low int) {
		for k, t := range tried {
			q, misfit = append(q, t.q), append(misfit, sum(t.misfit))
			if misfit[k] < misfit[low] {
				low = k
			}
		}
		return q, misfit, low
	}

	for _, q := range []float64{0.3, 0.15, 0.45} {
		try(q)
	}
	switch _, _, low := points(); low {
	case 0:
		try(qMin)
	case 2:
		try(qMax)
	}
	var best exponent
	for n := 0; ; n++ {
		q, misfit, low := points()
		m := min(max(low, 1), len(q)-2)
		best.q, _ = vertex(q[m-1:m+2], misfit[m-1:m+2])
		best.misfit = misfit[low]
		if n == maxParabolas || nearest(q, best.q) < exponentStep {
			break
		}
		try(best.q)
	}

	_, _, low := points()
	at := tried[low].q
	tried = slices.DeleteFunc(tried, func(t trial) bool { return t.q != at && math.Abs(t.q-at) < exponentSpan })
	q, misfit, low := points()
	m := min(max(low, 1), len(q)-2)
	_, curve := vertex(q[m-1:m+2], misfit[m-1:m+2])
	// misfit is -2 ln L, and curve half its second derivative: the inverse of the
	// variance.
	best.err = min(1/math.Sqrt(curve), (qMax-qMin)/math.Sqrt(12)) // at most that of one that may be anywhere
	var slopes []float64                                          // of ln FWHM by q
	for k := range failed {
		if !failed[k] {
			slopes = append(slopes, (tried[m+1].width[k]-tried[m-1].width[k])/(q[m+1]-q[m-1]))
		}
	}
	if len(slopes) > 0 {
		best.widthErr = math.Abs(medianOf(slopes)) * best.err
	}
	return best
}

// nearest is the distance to the nearest of some points.
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
