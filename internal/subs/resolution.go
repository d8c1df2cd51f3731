package subs

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// What the stars of a stack look like. An average of registered subs, each
// scaled to one light, has as star image the average of theirs, of unit volume
// each: its peak is the mean of their peaks, and its width is less than the mean
// of their widths, since sharp subs stand out in the middle. Each sub's image is
// an elliptical Moffat profile (Moffat 1969) of the field's median width and
// exponent, drawn out by the mean ellipticity vector; what the optics draw out
// differently over the field stays in the stack as it is in the subs. Subs are
// taken to be resampled without loss (as a windowed sinc does): bilinear
// resampling makes the stack wider than computed here.

// starShape is the star image of one sub.
type starShape struct {
	fwhm, beta   float64 // px, geometric mean of the axes; Moffat exponent
	ex, ey       float64 // mean ellipticity vector, e cos 2θ and e sin 2θ
	optics       float64 // ellipticity beyond the mean vector's length, in quadrature
	major, minor float64 // core radii, px
	cos, sin     float64 // of the major axis
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
	if x, y := ellipticityVector(f); !math.IsNaN(x + y) {
		s.ex, s.ey = x, y
	}
	e := math.Min(math.Hypot(s.ex, s.ey), 0.9)
	if f.Ellipticity.OK() {
		s.optics = math.Sqrt(math.Max(0, f.Ellipticity.V*f.Ellipticity.V-e*e))
	}
	// The core radius g of the FWHM 2 g √(2^(1/β) - 1), stretched with its area kept.
	core := s.fwhm / (2 * math.Sqrt(math.Exp2(1/s.beta)-1))
	q := math.Sqrt(1 - e)
	s.major, s.minor = core/q, core*q
	s.sin, s.cos = math.Sincos(math.Atan2(s.ey, s.ex) / 2)
	return s
}

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

// peak of unit volume: (β - 1) / (π g²).
func (s *starShape) peak() float64 { return (s.beta - 1) / (math.Pi * s.major * s.minor) }

// at is the image at an offset from its middle, px.
func (s *starShape) at(x, y float64) float64 {
	u, v := (x*s.cos+y*s.sin)/s.major, (y*s.cos-x*s.sin)/s.minor
	return s.peak() * math.Pow(1+u*u+v*v, -s.beta)
}

// shapesOf are the known shapes among a stack's subs.
func shapesOf(in []entry) []starShape {
	var all []starShape
	for _, e := range in {
		if e.shape.known() && e.signal > 0 {
			all = append(all, e.shape)
		}
	}
	return all
}

// stackDirections in which a stack's width is looked up, over half a turn.
const stackDirections = 6

// stackShape is the FWHM, px, and the ellipticity of an average of star images;
// NaN for none.
func stackShape(shapes []starShape) (fwhm, ellipticity float64) {
	if len(shapes) == 0 {
		return math.NaN(), math.NaN()
	}
	var width [stackDirections]float64
	var optics, c, s float64
	for k := range width {
		sin, cos := math.Sincos(math.Pi * float64(k) / stackDirections)
		width[k] = 2 * halfRadius(shapes, cos, sin)
	}
	// An ellipse of axes a and b has along θ the width ∝ (cos²/a² + sin²/b²)^-½,
	// whose inverse square is a constant and a cosine of 2θ.
	var mean float64
	for k, w := range width {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / stackDirections)
		mean, c, s = mean+1/(w*w), c+cos/(w*w), s+sin/(w*w)
	}
	mean, swing := mean/stackDirections, 2*math.Hypot(c, s)/stackDirections
	short, long := 1/math.Sqrt(mean+swing), 1/math.Sqrt(mean-swing)
	for _, sh := range shapes {
		optics += sh.optics * sh.optics / float64(len(shapes))
	}
	e := 1 - short/long
	return math.Sqrt(short * long), math.Sqrt(e*e + optics)
}

// halfRadius is where the average falls to half its peak along a direction, px.
func halfRadius(shapes []starShape, cos, sin float64) float64 {
	half, hi := 0.0, 0.0
	for i := range shapes {
		half += shapes[i].peak() / 2
		hi = math.Max(hi, shapes[i].fwhm/math.Sqrt(1-math.Min(math.Hypot(shapes[i].ex, shapes[i].ey), 0.9)))
	}
	lo := 0.0
	for range 14 { // to a ten-thousandth of the widest
		mid := (lo + hi) / 2
		sum := 0.0
		for i := range shapes {
			sum += shapes[i].at(mid*cos, mid*sin)
		}
		if sum > half {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// resolve fills the stack's shape for every cut, and marks the cuts that each
// aim is best served by: signal to noise times the power q of the height of the
// stars' peaks (see Aim).
func (ec *Economics) resolve(all []entry) {
	heights := make([]float64, len(all))
	for k := range all {
		shapes := shapesOf(all[k:])
		heights[k] = math.NaN()
		for i := range shapes {
			if i == 0 {
				heights[k] = 0
			}
			heights[k] += shapes[i].peak() / float64(len(shapes))
		}
		fwhm, e := stackShape(sampled(shapes))
		ec.FWHM, ec.Ellipticity = append(ec.FWHM, fwhm), append(ec.Ellipticity, e)
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

// mostSampled shapes stand for a stack: the average of more changes little.
const mostSampled = 40

// sampled are evenly spaced ones of many shapes.
func sampled(shapes []starShape) []starShape {
	if len(shapes) <= mostSampled {
		return shapes
	}
	out := make([]starShape, mostSampled)
	for i := range out {
		out[i] = shapes[(2*i+1)*len(shapes)/(2*mostSampled)]
	}
	return out
}
