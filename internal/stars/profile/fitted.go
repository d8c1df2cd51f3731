package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stats"
)

// fitted is a star's profile.
type fitted struct {
	star     int // index in the list
	p        params
	trail    bool
	variance float64 // of each component of the ellipticity vector
	widthVar float64 // of ln FWHM, the exponent being known
	misfit   stats.Value
	reach    float64 // half widths within which its light is summed
	level    float64 // of the background around it
	excess   float64 // what the pixels there hold more than the profile
}

// thinnest is the half width at half maximum, px, that the image of a star has at least.
// Lines of 0.2 px, the thinnest that a fit tries, are where one ended that lost
// its star, and the next star's would start.
const thinnest = 0.25

// plausible tells whether a fit stayed with its star.
func (f *fitted) plausible(st *stars.Star, s detect.Seeing) bool {
	a, b, _ := f.axes()
	size := 2 * math.Sqrt(a*b)
	return math.Hypot(f.p[0]-st.X, f.p[1]-st.Y) < 0.5*s.Fwhm+0.5 && size < 3*s.Fwhm && size > s.Fwhm/4 && b > thinnest
}

// axes gives the half widths at half maximum and the angle of the longer one.
// For a profile drawn along a line they are those of the Gaussian with the same
// second moments: a trail of length L adds L²/12 along it.
func (f *fitted) axes() (a, b, angle float64) {
	if !f.trail {
		m := Moffat{Cxx: f.p[4], Cxy: f.p[5], Cyy: f.p[6]}
		return m.axes()
	}
	b = 1 / math.Sqrt(f.p[4])
	l2 := f.p[5]*f.p[5] + f.p[6]*f.p[6]
	// Half width to sd: over sqrt(2 ln 2).
	a = math.Sqrt(b*b + 2*math.Ln2*l2/12)
	return a, b, stars.Wrap90(math.Atan2(f.p[6], f.p[5]) * 180 / math.Pi)
}

// profile is the fit as a round or elliptical Moffat, for its flux.
func (f *fitted) profile() Moffat {
	m := Moffat{amplitude: f.p[2], floor: f.p[3], Cxx: f.p[4], Cxy: f.p[5], Cyy: f.p[6], q: f.p[7]}
	if f.trail {
		m.Cxy, m.Cyy = 0, f.p[4]
	}
	return m
}

// fwhm is the geometric mean of the full widths at half maximum along and
// across. Those of a profile drawn along a line are looked up on the profile
// itself: its top is flatter than any Moffat's, so that its moments do not tell
// its width.
func (f *fitted) fwhm() float64 {
	if !f.trail {
		a, b, _ := f.axes()
		return 2 * math.Sqrt(a*b)
	}
	length := math.Hypot(f.p[5], f.p[6])
	level := func(along, across float64) float64 {
		var sum float64
		for _, g := range gauss[8] {
			d := along - g.t*length
			k := math.Exp2(f.p[7]) - 1
			sum += g.w * math.Exp(-math.Log1p(k*f.p[4]*(d*d+across*across))/f.p[7])
		}
		return sum
	}
	half := level(0, 0) / 2
	b := 1 / math.Sqrt(f.p[4])
	width := func(at func(float64) float64) float64 {
		lo, hi := 0.0, 2*b+length
		for range 20 {
			if m := (lo + hi) / 2; at(m) > half {
				lo = m
			} else {
				hi = m
			}
		}
		return lo + hi
	}
	along := width(func(x float64) float64 { return level(x, 0) })
	across := width(func(x float64) float64 { return level(0, x) })
	return math.Sqrt(along * across)
}

// adopt takes over the figures of a fit.
func adopt(st *stars.Star, f *fitted) {
	a, b, angle := f.axes()
	st.X, st.Y = f.p[0], f.p[1]
	st.Fitted = true
	st.FWHM, st.Beta, st.Ellipticity, st.Angle, st.ShapeErr = f.fwhm(), 1/f.p[7], 1-b/a, angle, math.Sqrt(f.variance)
	st.FWHMErr = st.FWHM * math.Sqrt(f.widthVar)
}
