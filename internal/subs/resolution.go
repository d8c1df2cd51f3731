package subs

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/profile"
	"fitsqa/internal/stats"
)

// What the stars of a stack look like. An average of registered subs, each
// scaled to one light, has as star image the average of theirs, of unit volume
// each: sharp subs stand out in its middle, and trailed ones draw out its foot. A profile is
// fitted to it as to the stars of a sub, so that its figures mean the same. Each sub's image is a
// round Moffat profile (Moffat 1969) of the field's median exponent, drawn along a line
// as far as the mean ellipticity vector tells, since it is by the pointing that all stars are drawn out
// alike, of which seeing makes round ones; what the optics draw out
// differently over the field stays in the stack as it is in the subs. Subs are
// taken to be resampled without loss (as a windowed sinc does): bilinear
// resampling makes the stack wider than computed here.

// starShape is the star image of one sub.
type starShape struct {
	fwhm, beta float64 // px, of the fit; Moffat exponent
	core       float64 // px, core radius across the line
	dx, dy     float64 // px, the line
	optics     float64 // ellipticity beyond the mean vector's length, in quadrature
}

// usualBeta is the exponent where none was fitted: seeing makes 2.5 to 4.8
// (Trujillo et al. 2001, from memory).
const usualBeta = 3.0

func shapeOf(f *stars.Field) starShape {
	if f == nil {
		return starShape{fwhm: math.NaN()}
	}
	s := starShape{fwhm: f.FWHM.V}
	if f.Defocused {
		s.fwhm = f.HFD.V // rings are about as wide as their half-flux diameter
	}
	s.beta = Exponent(f)
	// The core radius g of the FWHM 2 g √(2^(1/β) - 1).
	s.core = s.fwhm / (2 * math.Sqrt(math.Exp2(1/s.beta)-1))
	e := 0.0
	if x, y := ellipticityVector(f); !math.IsNaN(x + y) {
		e = math.Min(math.Hypot(x, y), 0.9)
		s.drawOut(e, math.Atan2(y, x)/2)
	}
	if f.Ellipticity.OK() {
		s.optics = math.Sqrt(math.Max(0, f.Ellipticity.V*f.Ellipticity.V-e*e))
	}
	return s
}

// roundest is the ellipticity from which on a line shows.
const roundest = 0.02

// drawOut gives the image its line, of the length whose second moment makes the ellipticity
// of a Gaussian of the same half width (1/12 of its square; half width² = 2 ln 2 variance), and
// the width across it whose fit has the sub's.
func (s *starShape) drawOut(e, angle float64) {
	if !(e > roundest) || !s.known() {
		return
	}
	length := s.fwhm / 2 * math.Sqrt(6/math.Ln2*(1/((1-e)*(1-e))-1))
	sin, cos := math.Sincos(angle)
	s.dx, s.dy = length*cos, length*sin
	im := profile.NewImage(fitReach * (s.fwhm + length) / 2)
	im.Add(s.at)
	if fwhm, _, ok := im.Shape(s.fwhm, s.beta); ok {
		s.core, s.dx, s.dy = s.core*s.fwhm/fwhm, s.dx*s.fwhm/fwhm, s.dy*s.fwhm/fwhm
	}
}

// fitReach is how far around its middle an image is fitted, in half widths along its longer
// axis, about as stars are.
const fitReach = 4

// Exponent is the one of the field's star images, the usual one where none was
// fitted.
func Exponent(f *stars.Field) float64 {
	if b := fittedBeta(f); b > 1.2 {
		return b
	}
	return usualBeta
}

// fittedBeta is the median exponent of the fitted stars; NaN for none.
func fittedBeta(f *stars.Field) float64 {
	var all []float64
	for i := range f.Stars {
		if st := &f.Stars[i]; st.Fitted {
			all = append(all, st.Beta)
		}
	}
	return stats.Median(all)
}

func (s *starShape) known() bool { return s.fwhm > 0 && !math.IsInf(s.fwhm, 0) }

// lineNodes are Gauss and Legendre's on [-1/2, 1/2], of five points, and their weights (Abramowitz
// and Stegun 1964, table 25.4): within a thousandth along the longest lines.
var lineNodes = [5]struct{ t, w float64 }{{-0.453089922969332, 0.118463442528095}, {-0.269234655052841, 0.239314335249683}, {0, 0.284444444444444},
	{0.269234655052841, 0.239314335249683}, {0.453089922969332, 0.118463442528095}}

// at is the image, of unit volume, at an offset from its middle, px.
func (s *starShape) at(x, y float64) float64 {
	sum := 0.0
	for _, n := range lineNodes {
		u, v := x-n.t*s.dx, y-n.t*s.dy
		sum += n.w * math.Pow(1+(u*u+v*v)/(s.core*s.core), -s.beta)
	}
	return sum * (s.beta - 1) / (math.Pi * s.core * s.core)
}

// peak is the height of the image.
func (s *starShape) peak() float64 { return s.at(0, 0) }

// tellsShape tells whether a sub puts a known star image into a stack.
func (e *entry) tellsShape() bool { return e.shape.known() && e.signal > 0 }

// shapesOf are the known shapes among a stack's subs.
func shapesOf(in []entry) []starShape {
	var all []starShape
	for _, e := range in {
		if e.tellsShape() {
			all = append(all, e.shape)
		}
	}
	return all
}

// stackImage is the average of star images, one after another.
type stackImage struct {
	image              *profile.Image
	n                  float64
	optics, fwhm, beta float64 // sums, of the squares of the optics' ellipticities
}

// newStackImage is one for some shapes, and of none yet.
func newStackImage(shapes []starShape) *stackImage {
	widest := 0.0
	for i := range shapes {
		widest = math.Max(widest, shapes[i].fwhm+math.Hypot(shapes[i].dx, shapes[i].dy))
	}
	return &stackImage{image: profile.NewImage(fitReach / 2 * widest)}
}

func (st *stackImage) add(s *starShape) {
	st.image.Add(s.at)
	st.n, st.optics = st.n+1, st.optics+s.optics*s.optics
	st.fwhm, st.beta = st.fwhm+s.fwhm, st.beta+s.beta
}

// shape is the FWHM, px, and the ellipticity of the average; NaN of none.
func (st *stackImage) shape() (fwhm, ellipticity float64) {
	if st.n == 0 {
		return math.NaN(), math.NaN()
	}
	fwhm, e, ok := st.image.Shape(st.fwhm/st.n, st.beta/st.n)
	if !ok {
		return math.NaN(), math.NaN()
	}
	return fwhm, math.Sqrt(e*e + st.optics/st.n)
}

// stackShape is the shape of an average of star images.
func stackShape(shapes []starShape) (fwhm, ellipticity float64) {
	st := newStackImage(shapes)
	for i := range shapes {
		st.add(&shapes[i])
	}
	return st.shape()
}

// resolve fills the stack's shape for every cut, and marks the cuts that each
// aim is best served by: signal to noise times the power q of the height of the
// stars' peaks (see Aim).
func (ec *Economics) resolve(all []entry) {
	n := len(all)
	heights := make([]float64, n)
	ec.FWHM, ec.Ellipticity = make([]float64, n), make([]float64, n)
	st, sum := newStackImage(shapesOf(all)), 0.0
	for k := n - 1; k >= 0; k-- {
		if e := &all[k]; e.tellsShape() {
			st.add(&e.shape)
			sum += e.shape.peak()
		}
		heights[k] = sum / st.n
		ec.FWHM[k], ec.Ellipticity[k] = st.shape()
	}
	for _, m := range []struct {
		aim Aim
		q   float64
	}{{Depth, 0}, {Balance, 1}, {Detail, 2}} {
		best, drop := 0.0, 0
		for k := range all {
			value := ec.Scaled[k]
			if m.q > 0 && !math.IsNaN(heights[k]) {
				value *= math.Pow(heights[k], m.q)
			}
			if value > best*(1+1e-12) {
				best, drop = value, k
			}
		}
		ec.Marks = append(ec.Marks, Mark{m.aim, drop})
	}
}
