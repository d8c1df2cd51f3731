package profile

import (
	"math"
	"slices"
)

// fitter fits profiles to stamps by Levenberg and Marquardt's damped least
// squares (Marquardt 1963, J. SIAM 11, 431). One fitter serves one goroutine.
type fitter struct {
	nodes   []node
	laplace bool // pixel integration by the Laplacian instead of by nodes
	trail   bool // round profile drawn along a line instead of an elliptical one
	radial  radial
	table   []params                  // of the last fit's pixels, see normal
	bright  []sample                  // weighed anew, see weighedByLight
	trial   []params                  // of a step that may not be taken
	normals [nParams][nParams]float64 // of the last fit, as the next
	chi2    float64
}

// prepareFor chooses the nodes for a profile to start from.
func (f *fitter) prepareFor(start *params, trail bool) {
	fit := fitted{p: *start, trail: trail}
	_, b, _ := fit.axes()
	length := 0.0
	if trail {
		length = math.Hypot(start[5], start[6])
	}
	f.prepare(2*b, length)
}

// shape of the fitted parameters: x, y, amplitude, floor, three of shape, q.
// The three of shape are C_xx, C_xy, C_yy, or C, T_x, T_y for a round profile
// drawn along the vector T.
const nParams = 8

type params [nParams]float64

// gauss-Legendre nodes and weights on [-1/2, 1/2] (Abramowitz and Stegun 1964, table 25.4).
var gauss = map[int][]struct{ t, w float64 }{
	1: {{0, 1}},
	3: {{-0.387298334620742, 0.277777777777778}, {0, 0.444444444444444}, {0.387298334620742, 0.277777777777778}},
	5: {{-0.453089922969332, 0.118463442528095}, {-0.269234655052841, 0.239314335249683}, {0, 0.284444444444444},
		{0.269234655052841, 0.239314335249683}, {0.453089922969332, 0.118463442528095}},
	8: {{-0.480144928248768, 0.050614268145188}, {-0.398333238706813, 0.111190517226687}, {-0.262766204958164, 0.156853322938944},
		{-0.091717321247825, 0.181341891689181}, {0.091717321247825, 0.181341891689181}, {0.262766204958164, 0.156853322938944},
		{0.398333238706813, 0.111190517226687}, {0.480144928248768, 0.050614268145188}},
}

// prepare chooses the nodes for profiles whose narrow full width at half
// maximum is fwhm px, drawn along a trail of about length px (0: none).
//
// From 2.4 px on, the mean over a pixel is the value at its centre, 1/24 of the
// Laplacian there and biharmonic of the Laplacian's Laplacian, as if the profile
// were round; below, it is summed over 3x3 nodes. Either is within 0.1 %
// of the peak. Along a trail, which smooths, the former will do from 1.6 px on.
func (f *fitter) prepare(fwhm, length float64) {
	along := 1
	f.trail = length > 0
	switch {
	case length > 2.5*fwhm:
		along = 8
	case length > 1.2*fwhm:
		along = 5
	case length > 0:
		along = 3
	}
	n := 3
	if f.laplace = fwhm >= 2.4 || length > 0 && fwhm >= 1.6; f.laplace {
		n = 1
	}
	f.nodes = f.nodes[:0]
	for _, t := range gauss[along] {
		for _, gy := range gauss[n] {
			for _, gx := range gauss[n] {
				f.nodes = append(f.nodes, node{gx.t, gy.t, gx.w * gy.w * t.w, t.t})
			}
		}
	}
}

// biharmonic is the weight of the fourth derivatives in the mean over a pixel,
// f_xxxx/1920 + f_yyyy/1920 + f_xxyy/576, averaged over all directions: 3/4 of a
// round profile's Laplacian of the Laplacian is f_xxxx + f_yyyy, 1/8 is f_xxyy.
const biharmonic = 3./4/1920 + 1./8/576

// noticeable is the change of chi², as a share of it, below which a fit rests:
// that far below one unit no parameter moves by a noticeable part of its error. A step that
// promises no more is taken unseen, where steps hold what they promise: of stars much
// narrower than a pixel they do not, all are off to one side then, and so is their mean.
const noticeable = 1e-5

// unheld is the share of noticeable that a step taken unseen may leave out, if it holds as
// much of its promise as the last.
const unheld = 0.1

// nFree parameters are fitted: the exponent, the last, is given.
const nFree = nParams - 1

// fit improves p, all but its exponent, on the stamp, and leaves its table, normal
// equations and chi² in f, the first two of the last step that was looked at. It
// fails when there are too few pixels or no minimum with a positive star is
// found.
func (f *fitter) fit(stamp []sample, p *params) bool {
	if len(stamp) < nFree+4 {
		return false
	}
	f.radial.set(p[7])
	lambda, broken := 1e-2, 1.0 // broken: the share of what the last step promised that it did not hold
	var a [nParams][nParams]float64
	var b params
	chi := f.normal(stamp, p, nFree, &a, &b)
	f.table, f.trial = f.trial, f.table
	for range 40 {
		next, ok := f.step(p, &a, b, lambda)
		if !ok {
			lambda *= 10
			if lambda > 1e8 {
				return false
			}
			continue
		}
		gain := promised(p, &next, &b)
		if gain < noticeable*chi && gain*broken < unheld*noticeable*chi {
			*p, chi = next, chi-gain
			break
		}
		var na [nParams][nParams]float64
		var nb params
		nextChi := f.normal(stamp, &next, nFree, &na, &nb)
		if !(nextChi < chi) {
			if lambda > 1e6 || nextChi-chi < noticeable*chi {
				break
			}
			lambda *= 10
			continue
		}
		gained := chi - nextChi
		broken = math.Abs(1 - gained/gain)
		*p, a, b, chi = next, na, nb, nextChi
		f.table, f.trial = f.trial, f.table
		lambda = max(lambda/10, 1e-9)
		if gained < noticeable*chi+1e-12 {
			break
		}
	}
	f.normals, f.chi2 = a, chi
	return p[2] > 0
}

// step is p moved to the minimum of its normal equations, damped by lambda; not ok where
// they have none or where no star is there.
func (f *fitter) step(p *params, a *[nParams][nParams]float64, b params, lambda float64) (next params, ok bool) {
	damped := *a
	for i := range nFree {
		damped[i][i] += lambda * a[i][i]
	}
	if !solve(&damped, &b, nFree) {
		return next, false
	}
	next = *p
	for i := range nFree {
		next[i] += b[i]
	}
	return next, f.proper(&next)
}

// promised is by how much chi² falls in a step at least, if the profile is as linear as its
// normal equations.
func promised(from, to, b *params) (gain float64) {
	for i := range nFree {
		gain += b[i] * (to[i] - from[i])
	}
	return gain
}

// proper tells whether the parameters describe a star at all.
func (f *fitter) proper(p *params) bool {
	for _, v := range p {
		if v-v != 0 {
			return false
		}
	}
	if f.trail {
		return p[4] > 1e-4 && p[4] < 25
	}
	return p[4] > 0 && p[6] > 0 && p[4]*p[6] > 1.02*p[5]*p[5] && p[4]*p[6]-p[5]*p[5] > 1e-8 && p[4]+p[6] < 50
}

// residual is the column of a table that holds what the profile leaves of the pixels.
const residual = nParams - 1

// rows is the table of a profile on a stamp, in place of the last trial's.
func (f *fitter) rows(stamp []sample, p *params) []params {
	f.trial = slices.Grow(f.trial[:0], len(stamp))[:len(stamp)]
	f.lay(f.trial, stamp, p)
	return f.trial
}

// normal builds the normal equations and gives chi². They are the products of
// the columns of the trial table: the derivatives by each parameter at every pixel
// and, last, the pixel's residual.
func (f *fitter) normal(stamp []sample, p *params, n int, a *[nParams][nParams]float64, b *params) float64 {
	var c [nParams]params
	normalProducts(f.rows(stamp, p), stamp, &c)
	for i := range n {
		for j := range n {
			a[i][j] = c[max(i, j)][min(i, j)]
		}
		b[i] = c[residual][i]
	}
	return c[residual][residual]
}

// solve solves a x = b for the first n unknowns in place by Cholesky's
// factors; it fails when a is not positive definite. It spoils a.
func solve(a *[nParams][nParams]float64, b *params, n int) bool {
	for i := range n {
		for j := range i + 1 {
			s := a[i][j]
			for k := range j {
				s -= a[i][k] * a[j][k]
			}
			if i == j {
				if !(s > 0) {
					return false
				}
				a[i][i] = math.Sqrt(s)
			} else {
				a[i][j] = s / a[j][j]
			}
		}
	}
	for i := range n {
		for k := range i {
			b[i] -= a[i][k] * b[k]
		}
		b[i] /= a[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= a[k][i] * b[k]
		}
		b[i] /= a[i][i]
	}
	return true
}
