package figures

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Combine lays the fitted stars of several subs over each other in the pixels
// of the sensor, where tilt and optics stand still while the sky dithers and
// flips, and gives their common map and what it tells: what
// stands out with its evidence, and only when the numbers carry it. Each sub's widths
// are first brought to the median seeing, so that a change of focus or air
// between subs does not pass for a pattern. Nil fields are left out. Notes say
// what could not be looked for, and why.
//
// Model of the width over the field, with u and v from -1 at one edge to 1 at
// the other: w (1 + a u + b v + c (u² + v²)); a and b are tilt, c is curvature.
// A figure is reported when it exceeds four times its error and makes a corner a tenth
// softer (elongation: 0.1): smaller ones spoil no stack (common practice, no source).
// The same stars are in all the subs, so that many subs do not make their pattern
// surer than one.
func Combine(fields []*stars.Field) (m stars.Map, findings, notes []fact.Fact) {
	var good []*stars.Field
	var widths []float64
	for _, f := range fields {
		if f != nil && f.FWHM.OK() && !f.Defocused && (len(good) == 0 || f.Width == good[0].Width && f.Height == good[0].Height) {
			good = append(good, f)
			widths = append(widths, f.FWHM.V)
		}
	}
	if len(good) == 0 {
		return stars.Map{}, nil, []fact.Fact{fact.Of(stars.NoMapWidths)}
	}
	common := stats.Median(widths)
	list := make([]stars.Star, 0, len(good)*len(good[0].Stars))
	for _, f := range good {
		for i := range f.Stars {
			if s := &f.Stars[i]; s.Fitted {
				list = append(list, *s)
				list[len(list)-1].FWHM *= common / f.FWHM.V
			}
		}
	}
	w, h := good[0].Width, good[0].Height
	m = MapOf(list, w, h)
	if m.Cells == nil {
		notes = append(notes, fact.Of(stars.NoMap, fact.Count("stars", len(list)), fact.Count("needed", minMapped)))
	}
	if len(list) < minPattern {
		notes = append(notes, fact.Of(stars.NotLookedFor, fact.Count("needed", minPattern)))
		return m, nil, notes
	}
	if findings = patternFindings(list, w, h, common, len(good)); findings == nil {
		notes = append(notes, fact.Of(stars.NoPattern))
	}
	return m, findings, notes
}

// minPattern is the fewest stars whose pattern over the field is looked at.
const minPattern = 60

// What is worth a sentence: a corner softer than the middle, or than the opposite one,
// by a tenth of the width; an ellipticity.
const softer, drawnOut = 0.1, 0.1

// sameStars makes the errors those of the stars of one field: what makes a star
// differ from the pattern (its colour, a neighbour) is in all its images.
func (p *pattern) sameStars(fields int) {
	more := math.Sqrt(float64(fields))
	for i := range p.err {
		p.err[i] *= more
	}
	p.meanErr *= more
	p.radialErr *= more
}

// patternFindings are what stands out of the pattern over the field.
func patternFindings(list []stars.Star, w, h int, common float64, fields int) []fact.Fact {
	p := fitPattern(list, w, h)
	p.sameStars(fields)
	var out []fact.Fact
	if t := math.Hypot(p.width[1], p.width[2]); t > 4*math.Hypot(p.err[1], p.err[2]) && math.Abs(p.width[1])+math.Abs(p.width[2]) > softer/2 {
		step := math.Abs(p.width[1]) + math.Abs(p.width[2])
		out = append(out, fact.Of(stars.SideSoft, fact.Text("place", string(corner(p.width[1], p.width[2]))),
			fact.Number("soft_px", common*(p.width[0]+2*p.width[3]+step)), fact.Number("sharp_px", common*(p.width[0]+2*p.width[3]-step)),
			fact.Number("less_px", 2*common*step), fact.Number("less_px_err", 2*common*math.Hypot(p.err[1], p.err[2]))))
	}
	if c := 2 * p.width[3]; c > 8*p.err[3] && c > softer {
		out = append(out, fact.Of(stars.CornersSoft, fact.Number("softer_pct", 100*c/p.width[0]), fact.Number("softer_pct_err", 200*p.err[3]/p.width[0])))
		x, y := -p.width[1]/(2*p.width[3]), -p.width[2]/(2*p.width[3])
		if r := math.Hypot(x, y); r > 0.3 && math.Abs(x) < 1 && math.Abs(y) < 1 && r > 4*math.Hypot(p.err[1], p.err[2])/(2*p.width[3]) {
			out = append(out, fact.Of(stars.SharpestOff, fact.Number("x_px", (x+1)*float64(w-1)/2), fact.Number("y_px", (y+1)*float64(h-1)/2)))
		}
	}
	if e := math.Hypot(p.mean[0], p.mean[1]); e > 4*p.meanErr && e > drawnOut && e > 2*math.Abs(p.radial) {
		out = append(out, fact.Of(stars.DrawnAlike, fact.Number("ellipticity", e), fact.Number("ellipticity_err", p.meanErr),
			fact.Number("angle_deg", stars.Wrap90(math.Atan2(p.mean[1], p.mean[0])*90/math.Pi))))
	}
	if math.Abs(p.radial) > 4*p.radialErr && math.Abs(p.radial) > drawnOut {
		code := stars.DrawnFromMiddle
		if p.radial < 0 {
			code = stars.DrawnRound
		}
		out = append(out, fact.Of(code, fact.Number("ellipticity", math.Abs(p.radial)), fact.Number("ellipticity_err", p.radialErr)))
	}
	return out
}

// corner is the corner towards which the width grows, or the edge where it hardly
// does so along it.
func corner(a, b float64) fact.Code {
	const hardly = 0.4 // of the other direction's: within 22° of it
	side, end, corners := stars.AtLeft, stars.AtLower, [2]fact.Code{stars.AtLowerLeft, stars.AtUpperLeft}
	if a > 0 {
		side, corners = stars.AtRight, [2]fact.Code{stars.AtLowerRight, stars.AtUpperRight}
	}
	up := 0
	if b > 0 {
		end, up = stars.AtUpper, 1
	}
	switch {
	case math.Abs(b) < hardly*math.Abs(a):
		return side
	case math.Abs(a) < hardly*math.Abs(b):
		return end
	}
	return corners[up]
}

// pattern is what the stars' shapes follow over the field.
type pattern struct {
	width, err        [4]float64 // 1, u, v, u²+v², in units of the common width
	mean              [2]float64 // mean ellipticity vector
	meanErr           float64
	radial, radialErr float64 // ellipticity along the radius beyond half way out, tangential negative
}

// fitPattern fits it by least squares, 3-sigma clipped.
func fitPattern(list []stars.Star, w, h int) pattern {
	var p pattern
	widths := widthsOf(list)
	median := stats.Median(widths)
	at := make([][4]float64, len(list))
	for i := range list {
		widths[i] /= median
		at[i] = terms(&list[i], w, h)
	}
	rest, sd := make([]float64, len(list)), math.Inf(1)
	for range 4 {
		var a [4 * 4]float64
		var b [4]float64
		n := 0
		for i, g := range at {
			if math.Abs(rest[i]) < 3*sd {
				n++
				for k, v := range g {
					for l := k; l < 4; l++ {
						a[4*k+l] += v * g[l]
					}
					b[k] += v * widths[i]
				}
			}
		}
		var factors mat.Cholesky
		var solution mat.VecDense
		if n < minPattern/2 || !factors.Factorize(mat.NewSymDense(4, a[:])) || factors.SolveVecTo(&solution, mat.NewVecDense(4, b[:])) != nil {
			return p
		}
		for i := range p.width {
			p.width[i] = solution.AtVec(i)
		}
		for i, g := range at {
			rest[i] = widths[i] - p.at(g)
		}
		sd = stats.MADSigma(rest)
		var inverse mat.SymDense
		if factors.InverseTo(&inverse) == nil {
			for i := range p.err {
				p.err[i] = sd * math.Sqrt(inverse.At(i, i))
			}
		}
	}
	p.directions(list, w, h)
	return p
}

func (p *pattern) at(g [4]float64) float64 {
	return p.width[0]*g[0] + p.width[1]*g[1] + p.width[2]*g[2] + p.width[3]*g[3]
}

func terms(s *stars.Star, w, h int) [4]float64 {
	u, v := 2*s.X/float64(w-1)-1, 2*s.Y/float64(h-1)-1
	return [4]float64{1, u, v, u*u + v*v}
}

// directions fills the mean ellipticity vector and its part along the radius.
func (p *pattern) directions(list []stars.Star, w, h int) {
	ex, ey := make([]float64, len(list)), make([]float64, len(list))
	for i := range list {
		ex[i], ey[i] = list[i].Vector()
	}
	p.mean = [2]float64{stats.Median(ex), stats.Median(ey)}
	n := float64(len(list))
	p.meanErr = 1.2533 * math.Hypot(stats.MADSigma(ex), stats.MADSigma(ey)) / math.Sqrt2 / math.Sqrt(n)
	var radial []float64
	for i := range list {
		s := &list[i]
		dx, dy := s.X-float64(w-1)/2, s.Y-float64(h-1)/2
		if math.Hypot(2*dx/float64(w), 2*dy/float64(h)) < 0.6 {
			continue
		}
		sn, cs := math.Sincos(2 * math.Atan2(dy, dx))
		radial = append(radial, (ex[i]-p.mean[0])*cs+(ey[i]-p.mean[1])*sn)
	}
	if len(radial) >= minPattern/3 {
		p.radial = stats.Median(radial)
		p.radialErr = 1.2533 * stats.MADSigma(radial) / math.Sqrt(float64(len(radial)))
	} else {
		p.radialErr = math.Inf(1)
	}
}

func widthsOf(list []stars.Star) []float64 {
	out := make([]float64, len(list))
	for i := range list {
		out[i] = list[i].FWHM
	}
	return out
}
