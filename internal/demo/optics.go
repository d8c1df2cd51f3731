package demo

import (
	"math"

	"fitsqa/internal/stats"
)

// The telescope of nearly every night: a 250 mm f/4 Newtonian.
const (
	focalLength = 1000.0 // mm
	aperture    = 250.0  // mm
	obstruction = 0.3    // diameter of the secondary mirror over the aperture

	cornerFalloff = 0.18 // light lost at the corner by vignetting
	cornerComa    = 0.10 // ellipticity that the mirror's coma adds at the corner, along the radius
	tilt          = 0.03 // FWHM at the right edge over that at the centre, less 1: the sensor is not square to the axis
)

// light is how much of the Newtonian's light the camera's telescope collects.
func (c Camera) light() float64 { return c.ApertureMM * c.ApertureMM / (aperture * aperture) }

// scale is the angle that one pixel spans, arcsec: 206.264806 is the number of
// arcseconds in a radian over 1000 (µm per mm).
func (c Camera) scale() float64 { return 206.264806 * c.PixelUM / c.FocalMM }

// dust is a shadow of a grain: a ring, because the grain is out of focus and
// the pupil has the secondary mirror's hole.
type dust struct {
	x, y, radius float64 // px
	depth        float64 // light lost in the ring
}

// flatField is how much light reaches each pixel through a filter, relative,
// with the sensitivity of the pixels; its mean is 1. Grains on the filter
// differ between filters, the one on the sensor's window does not. The filter
// is shifted by so many px.
func (s *sensor) flatField(filter string, seed uint64, shift [2]float64) []float32 {
	rng := source(seed, "dust "+filter)
	w, h := float64(s.w), float64(s.h)
	grains := []dust{{x: 0.7 * w, y: 0.25 * h, radius: 14, depth: 0.07}}
	for range 5 {
		grains = append(grains, dust{
			x: w*rng.Float64() + shift[0], y: h*rng.Float64() + shift[1],
			radius: 28 + 8*rng.Float64(), depth: 0.015 + 0.03*rng.Float64(),
		})
	}
	flat := make([]float32, s.w*s.h)
	cx, cy := 0.53*w, 0.48*h // the optical axis misses the centre of the sensor a little
	corner2 := (w*w + h*h) / 4
	for y := range s.h {
		for x := range s.w {
			dx, dy := float64(x)-cx, float64(y)-cy
			light := 1 - cornerFalloff*(dx*dx+dy*dy)/corner2
			flat[y*s.w+x] = float32(light) * s.gain[y*s.w+x] * colourOf(s.bayer, x, y)
		}
	}
	for _, g := range grains {
		g.shade(flat, s.w, s.h)
	}
	level(flat)
	return flat
}

// level scales a map to the mean 1, which keeps what its pixels differ by.
func level(m []float32) {
	by := float32(1 / stats.Mean(m))
	for i := range m {
		m[i] *= by
	}
}

// shade darkens the ring between 0.3 and 1 radius, with edges 2 px soft.
func (g dust) shade(flat []float32, w, h int) {
	edge := func(d float64) float64 { return 1 / (1 + math.Exp(-2*d)) } // 1 well inside, 0 well outside
	for y := max(0, int(g.y-g.radius-6)); y < min(h, int(g.y+g.radius+7)); y++ {
		for x := max(0, int(g.x-g.radius-6)); x < min(w, int(g.x+g.radius+7)); x++ {
			r := math.Hypot(float64(x)-g.x, float64(y)-g.y)
			flat[y*w+x] *= float32(1 - g.depth*edge(g.radius-r)*edge(r-obstruction*g.radius))
		}
	}
}
