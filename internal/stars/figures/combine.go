package figures

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Combine lays the fitted stars of several subs over each other in the pixels
// of the sensor, where tilt and optics stand still while the sky dithers and
// flips, and gives their common map and what it says in words: likely causes
// with their evidence, and only when the numbers carry it. Each sub's widths
// are first brought to the median seeing, so that a change of focus or air
// between subs does not pass for a pattern. Nil fields are left out. Notes say
// what could not be looked for, and why.
//
// Model of the width over the field, with u and v from -1 at one edge to 1 at
// the other: w (1 + a u + b v + c (u² + v²)); a and b are tilt, c is curvature.
// A figure is told when it exceeds four times its error and makes a corner a tenth
// softer (elongation: 0.1): smaller ones spoil no stack (common practice, no source).
// The same stars are in all the subs, so that many subs do not make their pattern
// surer than one.
func Combine(fields []*stars.Field) (m stars.Map, findings, notes []string) {
	var good []*stars.Field
	var widths []float64
	for _, f := range fields {
		if f != nil && f.FWHM.OK() && !f.Defocused && (len(good) == 0 || f.Width == good[0].Width && f.Height == good[0].Height) {
			good = append(good, f)
			widths = append(widths, f.FWHM.V)
		}
	}
	if len(good) == 0 {
		return stars.Map{}, nil, []string{"no map: no sub has stars of measured width"}
	}
	common := stats.Median(widths)
	var list []stars.Star
	for _, f := range good {
		for _, s := range f.Stars {
			if s.Fitted {
				s.FWHM *= common / f.FWHM.V
				list = append(list, s)
			}
		}
	}
	w, h := good[0].Width, good[0].Height
	m = MapOf(list, w, h)
	if m.Cells == nil {
		notes = append(notes, fmt.Sprintf("no map: %d stars of measured width, %d are needed", len(list), minMapped))
	}
	if len(list) < minPattern {
		notes = append(notes, fmt.Sprintf("tilt, curvature, coma and tracking were not looked for: that takes %d stars of measured width", minPattern))
		return m, nil, notes
	}
	if findings = patternFindings(list, w, h, common, len(good)); findings == nil {
		notes = append(notes, "no tilt, curvature, coma or common elongation stands out")
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

// patternFindings puts the pattern over the field in words.
func patternFindings(list []stars.Star, w, h int, common float64, fields int) []string {
	p := fitPattern(list, w, h)
	p.sameStars(fields)
	var out []string
	if t := math.Hypot(p.width[1], p.width[2]); t > 4*math.Hypot(p.err[1], p.err[2]) && math.Abs(p.width[1])+math.Abs(p.width[2]) > softer/2 {
		step := math.Abs(p.width[1]) + math.Abs(p.width[2])
		out = append(out, fmt.Sprintf("the %s is soft: FWHM %.2f px there and %.2f px opposite, %s px less: likely a tilted sensor or a sagging focuser",
			corner(p.width[1], p.width[2]), common*(p.width[0]+2*p.width[3]+step), common*(p.width[0]+2*p.width[3]-step),
			plusMinus(2*common*step, 2*common*math.Hypot(p.err[1], p.err[2]))))
	}
	if c := 2 * p.width[3]; c > 8*p.err[3] && c > softer {
		out = append(out, fmt.Sprintf("the corners are softer than the middle by %s %%: likely field curvature or a corrector at the wrong distance", plusMinus(100*c/p.width[0], 200*p.err[3]/p.width[0])))
		x, y := -p.width[1]/(2*p.width[3]), -p.width[2]/(2*p.width[3])
		if r := math.Hypot(x, y); r > 0.3 && math.Abs(x) < 1 && math.Abs(y) < 1 && r > 4*math.Hypot(p.err[1], p.err[2])/(2*p.width[3]) {
			out = append(out, fmt.Sprintf("the sharpest point lies off the middle, at x = %.0f, y = %.0f px: likely collimation or tilt", (x+1)*float64(w-1)/2, (y+1)*float64(h-1)/2))
		}
	}
	if e := math.Hypot(p.mean[0], p.mean[1]); e > 4*p.meanErr && e > drawnOut && e > 2*math.Abs(p.radial) {
		out = append(out, fmt.Sprintf("stars all over the field are drawn out alike, by %s at %.0f°: likely tracking or wind, not optics", plusMinus(e, p.meanErr), stars.Wrap90(math.Atan2(p.mean[1], p.mean[0])*90/math.Pi)))
	}
	if math.Abs(p.radial) > 4*p.radialErr && math.Abs(p.radial) > drawnOut {
		way, cause := "away from the middle", "coma or a corrector too near or too far"
		if p.radial < 0 {
			way, cause = "around the middle", "astigmatism or a corrector too near or too far"
		}
		out = append(out, fmt.Sprintf("stars in the outer field are drawn out %s, by %s: likely %s", way, plusMinus(math.Abs(p.radial), p.radialErr), cause))
	}
	return out
}

// plusMinus writes a figure with its uncertainty, where noise leaves one.
func plusMinus(v, err float64) string {
	return cmp.Or(stats.Known(v, err, 0).PlusMinus(), fmt.Sprintf("%.3g", v))
}

// corner names the corner towards which the width grows, or the edge where it hardly
// does so along it. Rows count upwards as stored; the words say so by their
// coordinates.
func corner(a, b float64) string {
	vertical, side := "lower", "left"
	if b > 0 {
		vertical = "upper"
	}
	if a > 0 {
		side = "right"
	}
	end := map[bool]string{false: "0", true: "max"}
	const hardly = 0.4 // of the other direction's: within 22° of it
	switch {
	case math.Abs(b) < hardly*math.Abs(a):
		return fmt.Sprintf("%s edge (x = %s as stored)", side, end[a > 0])
	case math.Abs(a) < hardly*math.Abs(b):
		return fmt.Sprintf("%s edge (y = %s as stored)", vertical, end[b > 0])
	}
	return fmt.Sprintf("%s %s corner (x = %s, y = %s as stored)", vertical, side, end[a > 0], end[b > 0])
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
	median := stats.Median(widthsOf(list))
	keep := func(stars.Star) bool { return true }
	for range 4 {
		a, b := mat.NewSymDense(4, nil), mat.NewVecDense(4, nil)
		n := 0
		for _, s := range list {
			if keep(s) {
				n++
				g := terms(s, w, h)
				row := mat.NewVecDense(4, g[:])
				a.SymRankOne(a, 1, row)
				b.AddScaledVec(b, s.FWHM/median, row)
			}
		}
		var factors mat.Cholesky
		var solution mat.VecDense
		if n < minPattern/2 || !factors.Factorize(a) || factors.SolveVecTo(&solution, b) != nil {
			return p
		}
		var rest []float64
		for i := range p.width {
			p.width[i] = solution.AtVec(i)
		}
		for _, s := range list {
			rest = append(rest, s.FWHM/median-p.at(terms(s, w, h)))
		}
		sd := stats.MADSigma(rest)
		now := p
		keep = func(s stars.Star) bool { return math.Abs(s.FWHM/median-now.at(terms(s, w, h))) < 3*sd }
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

func terms(s stars.Star, w, h int) [4]float64 {
	u, v := 2*s.X/float64(w-1)-1, 2*s.Y/float64(h-1)-1
	return [4]float64{1, u, v, u*u + v*v}
}

// directions fills the mean ellipticity vector and its part along the radius.
func (p *pattern) directions(list []stars.Star, w, h int) {
	var ex, ey, radial []float64
	for _, s := range list {
		x, y := s.Vector()
		ex, ey = append(ex, x), append(ey, y)
	}
	p.mean = [2]float64{stats.Median(ex), stats.Median(ey)}
	n := float64(len(list))
	p.meanErr = 1.2533 * math.Hypot(stats.MADSigma(ex), stats.MADSigma(ey)) / math.Sqrt2 / math.Sqrt(n)
	for i, s := range list {
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
	var out []float64
	for _, s := range list {
		out = append(out, s.FWHM)
	}
	return out
}
