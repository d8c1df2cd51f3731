package measure

import (
	"math"

	"fitsqa/internal/stars/plane"
)

const (
	soughtPixels = 0.95 // of an aperture, that hold a value
	ringFrom     = 2.0  // radii, and
	ringTo       = 4.0  // where the level around a star is taken
	ringBeside   = 3.0  // px beyond these
	levelErr     = 0.04 // sd of a pixel
)

// aperture sums light within a radius, its rim weighted.
type aperture struct {
	p      *plane.Plane
	radius float64
	pixels []weighed // around the middle of a pixel
}

// weighed is a pixel, from the middle of an aperture, with its weight.
type weighed struct {
	dx, dy int
	weight float64
}

func newAperture(p *plane.Plane, radius float64) aperture {
	a := aperture{p: p, radius: radius}
	a.each(0, 0, func(x, y int, weight float64) { a.pixels = append(a.pixels, weighed{x, y, weight}) })
	return a
}

// each calls do with the pixels of the aperture around a point.
func (a aperture) each(x, y float64, do func(x, y int, weight float64)) {
	reach := a.radius + 0.5
	for j := int(math.Ceil(y - reach)); j <= int(math.Floor(y+reach)); j++ {
		for i := int(math.Ceil(x - reach)); i <= int(math.Floor(x+reach)); i++ {
			if inside := reach - math.Hypot(float64(i)-x, float64(j)-y); inside > 0 {
				do(i, j, min(inside, 1))
			}
		}
	}
}

func (a aperture) area() float64 { return math.Pi * a.radius * a.radius }

// noise is that of a sum at a point and of the level around; what a mosaic fills in tells
// nothing new. offset is what the level may be off by besides, which is much the same around
// other stars: in sd of a pixel, as the median of a thousand, or as a sample is where steps
// hide the noise.
func (a aperture) noise(x, y float64) (noise, offset float64) {
	x, y = min(max(x, 0), float64(a.p.W-1)), min(max(y, 0), float64(a.p.H-1))
	pixel := a.p.Mesh.NoiseAt(x, y)
	level := levelErr * pixel
	if a.p.Step > pixel {
		level = a.p.Step / math.Sqrt(12)
	}
	return pixel * math.Sqrt(a.area()/a.p.Density()*(1+1/(ringTo*ringTo))), a.area() * level
}

// lies tells whether the aperture around a point lies within the frame.
func (a aperture) lies(x, y float64) bool {
	reach := a.radius + 0.5
	return x >= reach && y >= reach && x+reach <= float64(a.p.W-1) && y+reach <= float64(a.p.H-1)
}

// sum is the light in the aperture around a point; NaN where it does not lie within the
// frame, or on too many pixels that hold no light: one beside the middle of a narrow star.
func (a aperture) sum(x, y float64) float64 {
	if !a.lies(x, y) {
		return math.NaN()
	}
	var s total
	a.each(x, y, func(i, j int, weight float64) { s.add(a.p, i, j, weight) })
	return s.light()
}

// total sums pixels up; those without a value count as the mean of the others.
type total struct{ sum, known, all float64 }

func (t *total) add(p *plane.Plane, x, y int, weight float64) {
	t.all += weight
	if i := y*p.W + x; !p.HasBad || !p.Bad.Get(i) {
		t.known += weight
		t.sum += weight * float64(p.R[i])
	}
}

func (t *total) light() float64 {
	if t.known < soughtPixels*t.all {
		return math.NaN()
	}
	return t.sum * t.all / t.known
}

// level around a place beyond the aperture.
func (a aperture) level(x, y float64) float64 {
	return a.p.Annulus(x, y, ringFrom*a.radius+ringBeside, ringTo*a.radius+2*ringBeside)
}

// sumAt is sum around the middle of a pixel.
func (a aperture) sumAt(x, y int) float64 {
	if !a.lies(float64(x), float64(y)) {
		return math.NaN()
	}
	var s total
	for _, px := range a.pixels {
		s.add(a.p, x+px.dx, y+px.dy, px.weight)
	}
	return s.light()
}
