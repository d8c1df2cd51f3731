package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
)

// diameters measures half-flux diameters: of fitted stars with the fit's flux
// and background, of others (rings) from their curve of growth alone.
func diameters(p *plane.Plane, list []stars.Star, chosen []int, fits []fitted, s detect.Seeing) {
	if len(fits) == 0 {
		for _, i := range chosen {
			reach := max(4, 1.5*s.Fwhm)
			st := &list[i]
			level, _ := plane.NewRing(reach, 1.3*reach+1).Background(p, int(math.Round(st.X)), int(math.Round(st.Y)))
			st.HFD = halfFluxDiameter(p, st.X, st.Y, level, 0, reach)
		}
		return
	}
	for _, f := range fits {
		st := &list[f.star]
		m := f.profile()
		total := m.flux()
		if !(m.q < 0.7) {
			total = 0 // the profile's integral hardly converges
		}
		st.HFD = halfFluxDiameter(p, st.X, st.Y, m.floor, total, max(4, 3*s.Fwhm))
	}
}

const (
	radiusStep = 0.1 // px, of a curve of growth
	cutRings   = 9   // outermost of a curve that lack parts of pixels: half the diagonal of one, and one begun
)

// halfFluxDiameter is twice the radius of the circle around a centre that holds
// half the flux: half of total, or of all within reach when total is 0. NaN when
// the frame's edge is too near or the light does not add up.
func halfFluxDiameter(p *plane.Plane, x, y, level, total, reach float64) float64 {
	if x < reach || y < reach || x > float64(p.W-1)-reach || y > float64(p.H-1)-reach {
		return math.NaN()
	}
	if total > 0 { // half of it mostly lies in the innermost sixth of the pixels
		inner, _ := growth(p, x, y, level, 0.4*reach)
		if d := diameterOf(inner[:len(inner)-cutRings], total/2); d > 0 {
			return d
		}
	}
	rings, all := growth(p, x, y, level, reach)
	if total == 0 {
		total = all
	}
	if !(total > 0) {
		return math.NaN()
	}
	return diameterOf(rings, total/2)
}

// diameterOf is that of the circle that holds so much of the light in rings around
// its middle; NaN when they hold less.
func diameterOf(rings []float64, light float64) float64 {
	var sum float64
	for k, v := range rings {
		if sum+v >= light && v > 0 {
			return 2 * radiusStep * (float64(k) + (light-sum)/v)
		}
		sum += v
	}
	return math.NaN()
}

// Middles of the parts of a pixel's width.
var whole, fifths = []float64{0.5}, []float64{0.1, 0.3, 0.5, 0.7, 0.9}

// growth is the light in rings around a centre, and that of all. Only pixels whose
// middle is within reach count. They are flat squares, so narrow stars come out
// broader than their profile.
func growth(p *plane.Plane, x, y, level, reach float64) (rings []float64, all float64) {
	rings = make([]float64, int(reach/radiusStep)+1)
	for j := int(math.Ceil(y - reach)); j <= int(y+reach); j++ {
		for i := int(math.Ceil(x - reach)); i <= int(x+reach); i++ {
			if !p.Trusted(i, j) {
				continue
			}
			dx, dy := float64(i)-x, float64(j)-y
			parts := whole
			if dx*dx+dy*dy < 36 {
				parts = fifths
			}
			share := (float64(p.R[j*p.W+i]) - level) / p.Density() / float64(len(parts)*len(parts))
			for _, b := range parts {
				ey := dy + b - 0.5
				for _, a := range parts {
					ex := dx + a - 0.5
					if r := math.Sqrt(ex*ex + ey*ey); r < reach {
						rings[int(r*(1/radiusStep))] += share
						all += share
					}
				}
			}
		}
	}
	return rings, all
}
