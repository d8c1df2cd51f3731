package figures

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

const patternTerms = 6

// towardsCorner is the radius squared, over that of a corner, at which what is drawn along it
// is told: there a line, a parabola and a fourth power fitted for one another agree, within
// lawOff of it, and there lie the corners of a map.
const towardsCorner, lawOff = 0.72, 0.1

// pattern is what the stars' shapes follow over the field.
type pattern struct {
	width, err        [patternTerms]float64 // see terms; in units of the common width
	mean              [2]float64            // mean ellipticity vector
	meanErr           float64
	radial, radialErr float64 // ellipticity along the radius towards the corners, tangential negative
}

// fitPattern fits it by least squares, each star by its own error, 3-sigma clipped.
func fitPattern(list []stars.Star, w, h, fields int) pattern {
	var p pattern
	points := pointsOf(list, w, h)
	for range 4 {
		var a [patternTerms * patternTerms]float64
		var b [patternTerms]float64
		n := 0
		for i := range points {
			q := &points[i]
			if q.out {
				continue
			}
			n++
			for k, v := range q.terms {
				v /= q.variance
				for l := k; l < patternTerms; l++ {
					a[patternTerms*k+l] += v * q.terms[l]
				}
				b[k] += v * q.width
			}
		}
		var factors mat.Cholesky
		var solution mat.VecDense
		var inverse mat.SymDense
		if n < minPattern/2 || !factors.Factorize(mat.NewSymDense(patternTerms, a[:])) || factors.SolveVecTo(&solution, mat.NewVecDense(patternTerms, b[:])) != nil || factors.InverseTo(&inverse) != nil {
			return p
		}
		for i := range p.width {
			p.width[i] = solution.AtVec(i)
		}
		scale := p.clip(points, fields)
		for i := range p.err {
			p.err[i] = scale * math.Sqrt(inverse.At(i, i))
		}
	}
	p.directions(list, w, h, fields)
	return p
}

// point is the width of one star in one sub, relative to the median.
type point struct {
	terms           [patternTerms]float64
	width           float64
	noise, variance float64 // variance by the star's own error, and with what stars differ by beyond it
	out             bool
}

// beyondNoise is by how much the widths of stars differ beyond their noise: by colour and
// neighbours (common practice, no source). It keeps the brightest from deciding alone; how
// much it is the residuals tell.
const beyondNoise = 0.03

func pointsOf(list []stars.Star, w, h int) []point {
	median := stats.Median(widthsOf(list))
	points := make([]point, len(list))
	for i := range list {
		s := &list[i]
		noise := s.FWHMErr * s.FWHMErr / (median * median)
		points[i] = point{terms: terms(2*s.X/float64(w-1)-1, 2*s.Y/float64(h-1)-1), width: s.FWHM / median, noise: noise, variance: noise + beyondNoise*beyondNoise}
	}
	return points
}

// clip leaves out what lies far off the pattern, and gives the factor by which errors by the
// points' variances are too small: noise is new in every field, and what stars differ by
// beyond it, their colour or a neighbour, is the same in all.
func (p *pattern) clip(points []point, fields int) float64 {
	pulls := make([]float64, len(points))
	for i := range points {
		q := &points[i]
		pulls[i] = (q.width - p.at(q.terms)) / math.Sqrt(q.variance)
	}
	sd := stats.MADSigma(pulls)
	var noise, n float64
	for i := range points {
		q := &points[i]
		if q.out = !(math.Abs(pulls[i]) < 3*sd); !q.out {
			noise, n = noise+q.noise/q.variance, n+1
		}
	}
	noise = math.Min(noise/n, sd*sd)
	apart := n / float64(fields) // stars, of which the terms take up as many
	return math.Sqrt(noise + float64(fields)*(sd*sd-noise)*apart/(apart-patternTerms))
}

func (p *pattern) at(g [patternTerms]float64) (w float64) {
	for i := range g {
		w += p.width[i] * g[i]
	}
	return w
}

func terms(u, v float64) [patternTerms]float64 {
	return [patternTerms]float64{1, u, v, u*u + v*v, u*u - v*v, 2 * u * v}
}

// directions fills the mean ellipticity vector and what is drawn along the radius. Coma blurs
// in proportion to the radius and astigmatism to its square (third-order aberrations, from
// memory), beside the seeing in quadrature: the ellipticity is taken to grow with the radius
// squared, which is between them. The same stars are in all the fields: the errors are those of one.
func (p *pattern) directions(list []stars.Star, w, h, fields int) {
	ex, ey := make([]float64, len(list)), make([]float64, len(list))
	for i := range list {
		ex[i], ey[i] = list[i].Vector()
	}
	p.mean = [2]float64{stats.Median(ex), stats.Median(ey)}
	n := float64(len(list))
	p.meanErr = stats.MedianErr * math.Hypot(stats.MADSigma(ex), stats.MADSigma(ey)) / math.Sqrt2 / math.Sqrt(n/float64(fields))
	// What is drawn along the radius, the radius squared over that of a corner, and the one over the other.
	along, square, corner := make([]float64, len(list)), make([]float64, len(list)), make([]float64, len(list))
	sum := 0.0
	for i := range list {
		s := &list[i]
		dx, dy := s.X-float64(w-1)/2, s.Y-float64(h-1)/2
		square[i] = 2 * (dx*dx/float64(w*w) + dy*dy/float64(h*h))
		sn, cs := math.Sincos(2 * math.Atan2(dy, dx))
		along[i] = (ex[i]-p.mean[0])*cs + (ey[i]-p.mean[1])*sn
		corner[i] = along[i] / math.Max(square[i], 1e-9) // of no weight in the middle
		sum += square[i] * square[i]
	}
	slope := stats.WeightedMedian(corner, square)
	for i := range along {
		along[i] -= slope * square[i]
	}
	p.radial = towardsCorner * slope
	p.radialErr = math.Hypot(towardsCorner*stats.MedianErr*stats.MADSigma(along)/math.Sqrt(sum/float64(fields)), lawOff*p.radial)
}

func widthsOf(list []stars.Star) []float64 {
	out := make([]float64, len(list))
	for i := range list {
		out[i] = list[i].FWHM
	}
	return out
}
