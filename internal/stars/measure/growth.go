package measure

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

const (
	growthReach = 2.5 // radii of the aperture that found stars, to which their light is followed
	growthLevel = 1.6 // times as far the level around is taken
	growthRings = 40  // rings to there
	growthSure  = 4.0 // standard errors of all the light, from which on it tells how far it reaches
)

// growth is the light of stars in rings around their places, all of them together.
type growth struct {
	p           *plane.Plane
	step        float64 // px, width of a ring
	light, full [growthRings]float64
}

// add adds what is around a place, above a level, of a star of a certain light.
func (g *growth) add(x, y, level, flux, weight float64) {
	reach := growthRings * g.step
	for j := int(math.Ceil(y - reach)); j <= int(y+reach); j++ {
		for i := int(math.Ceil(x - reach)); i <= int(x+reach); i++ {
			at := j*g.p.W + i
			if g.p.HasBad && g.p.Bad.Get(at) {
				continue
			}
			for _, b := range fifths {
				for _, a := range fifths {
					k := int(math.Hypot(float64(i)+a-x, float64(j)+b-y) / g.step)
					if k < growthRings {
						g.light[k] += weight * (float64(g.p.R[at]) - level)
						g.full[k] += weight * flux
					}
				}
			}
		}
	}
}

// fifths are the middles of the parts of a pixel's width, from its own.
var fifths = []float64{-0.4, -0.2, 0, 0.2, 0.4}

// curve is the share of the light of all stars within so many rings, 0 to all; what pixels
// without a value hold, their ring tells.
func (g *growth) curve() []float64 {
	c := make([]float64, 1, growthRings+1)
	for k := range g.light {
		area := math.Pi * g.step * g.step * float64(2*k+1)
		share := 0.0
		if g.full[k] > 0 {
			share = g.light[k] / g.full[k] * area
		}
		c = append(c, c[k]+share)
	}
	return c
}

// around is the level just beyond the aperture, and its error: as four places there differ,
// by a nebula, or the edge of what stands before the sky.
func (a aperture) around(x, y float64) (level, err float64) {
	from, to := a.radius+ringBeside, growthLevel*a.radius+2*ringBeside
	middle, disc := (from+to)/2, (to-from)/2
	var at []float64
	for _, d := range [][2]float64{{1, 0}, {0, 1}, {-1, 0}, {0, -1}} {
		if v := a.p.Annulus(x+d[0]*middle, y+d[1]*middle, 0, disc); !math.IsNaN(v) { // within the frame
			at = append(at, v)
		}
	}
	return a.p.Annulus(x, y, from, to), math.Sqrt(stats.Variance(at) / 3)
}

// size is the half-flux diameter of all stars together, by their curve of growth.
func (a aperture) size(there []stars.Star) stats.Value {
	all := newAperture(a.p, growthReach*a.radius)
	g := growth{p: a.p, step: all.radius / growthRings}
	var full, variance, offset float64
	n := 0
	for _, st := range there {
		x, y := st.X, st.Y
		if !all.lies(x, y) {
			continue
		}
		noise, off := all.noise(x, y)
		level, levelErr := all.around(x, y)
		noise = math.Hypot(noise, all.area()*levelErr)
		weight := st.Flux / soughtVariance(noise, st.Flux)
		g.add(x, y, level, st.Flux, weight)
		full, variance, n = full+weight*st.Flux, variance+weight*weight*noise*noise, n+1
		offset += weight * off
	}
	curve, err := g.curve(), math.Hypot(math.Sqrt(variance), offset)/full
	total := curve[growthRings]
	if !(total > growthSure*err) {
		return stats.Missing(stars.NoHalfFlux)
	}
	// Half of it lies within the radius where what is inside is as much as what is outside;
	// the difference of both has the error of all.
	radius, least := crossing(curve, total/2), crossing(curve, total/2-err)
	return stats.Known(2*radius*g.step, (radius-least)*g.step, n)
}

// crossing is where a curve that begins at 0 first reaches a height, in steps.
func crossing(curve []float64, height float64) float64 {
	for k := 1; k < len(curve); k++ {
		if curve[k] >= height {
			return float64(k) - (curve[k]-height)/(curve[k]-curve[k-1])
		}
	}
	return math.NaN()
}
