package stars

import "math"

// exponent finds the 1/beta that fits the brightest stars best: first on a grid
// from the Gaussian to beta = 1.6, then by parabolas through the lowest three
// points. What is made small is the sum of n ln(chi²/n) over the stars, n the
// pixels of each: minus twice the logarithm of the likelihood where the noise
// of each star is its own unknown, so that one odd star does not decide. Its
// least value is given too.
func (ms *Measurer) exponent(list []Star, bright []int, s seeing, start params) (q, total float64) {
	type known struct{ q, sum float64 }
	pars := make([]params, len(bright))
	failed := make([]bool, len(bright))
	for k, i := range bright {
		pars[k] = start.at(&list[i])
	}
	try := func(q float64) known {
		var sum float64
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
			sum += n * math.Log(ms.f.chi2/n)
		}
		return known{q, sum}
	}
	try(0.3) // settles which stars take part
	grid := []float64{0.6, 0.45, 0.3, 0.15, qMin}
	pts := make([]known, len(grid))
	for k, g := range grid {
		pts[len(grid)-1-k] = try(g)
	}
	low := 0
	for range 3 {
		low = 0
		for k, v := range pts {
			if v.sum < pts[low].sum {
				low = k
			}
		}
		m := min(max(low, 1), len(pts)-2)
		v := vertex(pts[m-1].q, pts[m].q, pts[m+1].q, pts[m-1].sum, pts[m].sum, pts[m+1].sum)
		at := 0
		for at < len(pts) && pts[at].q < v {
			at++
		}
		if at < len(pts) && pts[at].q-v < 0.01 || at > 0 && v-pts[at-1].q < 0.01 {
			return v, pts[low].sum
		}
		pts = append(pts[:at], append([]known{try(v)}, pts[at:]...)...)
	}
	for k, v := range pts {
		if v.sum < pts[low].sum {
			low = k
		}
	}
	return pts[low].q, pts[low].sum
}

// vertex is the lowest point of the parabola through three points in rising
// order, kept between the outer two.
func vertex(x0, x1, x2, y0, y1, y2 float64) float64 {
	d1, d2 := (y1-y0)/(x1-x0), (y2-y1)/(x2-x1)
	curve := (d2 - d1) / (x2 - x0)
	if !(curve > 0) {
		if y0 < y2 {
			return x0
		}
		return x2
	}
	return min(max((x0+x1)/2-d1/(2*curve), x0), x2)
}

// ellipticityVariance is the variance of each component of the ellipticity
// vector (e cos 2 theta, e sin 2 theta) of a fit, propagated from the noise of
// the pixels: that of the sky, and in the star more, in proportion to its light
// as much as chi² asks for, or the gain (NaN: not known) tells.
func (f *fitter) ellipticityVariance(stamp []sample, p *params, gain float64) float64 {
	const n = nParams - 1
	var a [nParams][nParams]float64
	var b params
	f.radial.set(p[7])
	chi2 := f.normal(stamp, p, n, &a, &b)
	var lever [2]params // how each component answers to the pixels' gradients
	for c := range lever {
		d := params{}
		for k := 4; k < 7; k++ {
			q := *p
			h := 1e-4 * (math.Abs(p[k]) + 1e-2*math.Abs(p[4]))
			q[k] += h
			d[k] = (f.vector(&q)[c] - f.vector(p)[c]) / h
		}
		m := a
		if !solve(&m, &d, n) {
			return 1
		}
		lever[c] = d
	}
	var sky, star, light float64
	var g params
	for _, s := range stamp {
		v := f.value(p, s.x, s.y, &g)
		for i := range g {
			g[i] *= p[2]
		}
		g[2], g[3] = v, 1
		light += s.w * p[2] * v
		for _, l := range lever {
			var t float64
			for i := range n {
				t += l[i] * g[i]
			}
			t *= t * s.w
			sky += t / 2
			star += t * s.w * p[2] * v / 2
		}
	}
	perUnit := max(0, (chi2-float64(len(stamp)-n))/light)
	if gain > 0 {
		perUnit = max(perUnit, 1/gain)
	}
	return sky + perUnit*star
}

// vector is the ellipticity vector of a profile.
func (f *fitter) vector(p *params) [2]float64 {
	fit := fitted{p: *p, trail: f.trail}
	a, b, angle := fit.axes()
	s, c := math.Sincos(2 * angle * math.Pi / 180)
	return [2]float64{(1 - b/a) * c, (1 - b/a) * s}
}
