package figures

import (
	"math"
	"slices"

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
// the other: w (1 + a u + b v + c (u² + v²) + d (u² - v²) + 2 e u v); a and b are tilt,
// c is curvature, and d and e with as much of c are a tilt that is in focus within the frame.
// A figure is reported when it exceeds four times its error and makes a corner a tenth
// softer (elongation: 0.1): smaller ones spoil no stack (common practice, no source).
// The same stars are in all the subs, so that many subs make what the stars themselves
// differ by no surer than one.
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
	list := make([]stars.Star, 0, fittedOf(good)) // not for all: few are fitted, and those of a thousand subs are many
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
	if needed := max(minPattern, minApart*len(good)); len(list) < needed {
		notes = append(notes, fact.Of(stars.NotLookedFor, fact.Count("needed", needed)))
		return m, nil, notes
	}
	if findings = patternFindings(list, w, h, common, len(good)); findings == nil {
		notes = append(notes, fact.Of(stars.NoPattern))
	}
	return m, findings, notes
}

func fittedOf(fields []*stars.Field) (n int) {
	for _, f := range fields {
		for i := range f.Stars {
			if f.Stars[i].Fitted {
				n++
			}
		}
	}
	return n
}

// minPattern is the fewest stars whose pattern over the field is looked at, and minApart how
// many of them each sub has to show: twenty stars that are the same in a dozen subs make a
// pattern of their own, and one odd among them decides.
const minPattern, minApart = 60, 24

// What is worth a sentence: a corner softer than the middle, or than the opposite one,
// by a tenth of the width; an ellipticity.
const softer, drawnOut = 0.1, 0.1

func patternFindings(list []stars.Star, w, h int, common float64, fields int) []fact.Fact {
	p := fitPattern(list, w, h, fields)
	return slices.Concat(p.softSide(common), p.softPlaces(common, w, h), p.drawn())
}

func (p *pattern) softSide(common float64) []fact.Fact {
	a, b := p.width[1], p.width[2]
	step, err := math.Abs(a)+math.Abs(b), math.Hypot(p.err[1], p.err[2])
	if !(math.Hypot(a, b) > 4*err && step > softer/2) {
		return nil
	}
	u, v := math.Copysign(1, a), math.Copysign(1, b)
	return []fact.Fact{fact.Of(stars.SideSoft, fact.Text("place", string(corner(a, b))),
		fact.Number("soft_px", common*p.at(terms(u, v))), fact.Number("sharp_px", common*p.at(terms(-u, -v))),
		fact.Number("less_px", 2*common*step), fact.Number("less_px_err", 2*common*err))}
}

// softPlaces tells whether two places that face each other are both softer than either of
// the other two of their kind, and whether all corners are softer than the middle beyond
// what a tilt that is in focus somewhere makes them.
func (p *pattern) softPlaces(common float64, w, h int) (out []fact.Fact) {
	code, u, v, sd := p.facing()
	soft, sharp := min(p.at(terms(u, v)), p.at(terms(-u, -v))), max(p.at(terms(-v, u)), p.at(terms(v, -u)))
	err := math.Hypot(sd, 2*math.Hypot(p.err[1], p.err[2])) // both ends of two slopes
	if less := soft - sharp; less > 4*err && less > softer {
		out = append(out, fact.Of(stars.FacingSoft, fact.Text("places", string(code)), fact.Number("soft_px", common*soft), fact.Number("sharp_px", common*sharp),
			fact.Number("less_px", common*less), fact.Number("less_px_err", common*err)))
	}
	curved := p.width[3]
	if t := math.Hypot(p.width[4], p.width[5]); t > 4*math.Hypot(p.err[4], p.err[5]) {
		curved -= t
	}
	if !(curved > 4*p.err[3] && 2*curved > softer) {
		return out
	}
	out = append(out, fact.Of(stars.CornersSoft, fact.Number("softer_pct", 200*curved/p.width[0]), fact.Number("softer_pct_err", 200*p.err[3]/p.width[0])))
	x, y := p.sharpest()
	if r := math.Hypot(x, y); r > 0.3 && math.Abs(x) < 1 && math.Abs(y) < 1 && r > 4*math.Hypot(p.err[1], p.err[2])/(2*curved) {
		out = append(out, fact.Of(stars.SharpestOff, fact.Number("x_px", (x+1)*float64(w-1)/2), fact.Number("y_px", (y+1)*float64(h-1)/2)))
	}
	return out
}

// facing is which two places that face each other are the softest, one of them in u and v,
// and the error of how much softer they are than the other two of their kind.
func (p *pattern) facing() (code fact.Code, u, v, err float64) {
	d, e := p.width[4], p.width[5]
	switch {
	case math.Abs(e) >= math.Abs(d) && e > 0:
		return stars.AtRisingCorners, 1, 1, 4 * p.err[5]
	case math.Abs(e) >= math.Abs(d):
		return stars.AtFallingCorners, 1, -1, 4 * p.err[5]
	case d > 0:
		return stars.AtSides, 1, 0, 2 * p.err[4]
	}
	return stars.AtEnds, 0, 1, 2 * p.err[4]
}

func (p *pattern) sharpest() (x, y float64) {
	a, b, c, d, e := p.width[1], p.width[2], p.width[3], p.width[4], p.width[5]
	det := 2 * (c*c - d*d - e*e)
	return (-a*(c-d) + b*e) / det, (a*e - b*(c+d)) / det
}

// drawn is what the directions of the stars' elongation tell.
func (p *pattern) drawn() (out []fact.Fact) {
	if e := math.Hypot(p.mean[0], p.mean[1]); e > 4*p.meanErr && e > drawnOut && e > math.Abs(p.radial) {
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
