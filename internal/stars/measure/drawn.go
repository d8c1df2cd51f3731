package measure

import (
	"math"

	"fitsqa/internal/stars"
)

const (
	drawnReach   = 3.5      // standard deviations of the weight, to which light counts
	drawnRounds  = 4        // in which the middle of all light is found
	drawnWidest  = 4.0      // times the weight, that light is taken to be drawn out at most
	drawnFewest  = 2        // stars that are drawn out alike
	drawnFinest  = 1.0      // px, FWHM across at least: a point of light itself spans a pixel
	pixelSquares = 1.0 / 12 // px², variance of a pixel's width
)

// moments are sums of light around places, times the powers of the distance from there.
type moments struct{ light, x, y, xx, xy, yy float64 }

func (m *moments) add(o moments, weight float64) {
	m.light += weight * o.light
	m.x, m.y = m.x+weight*o.x, m.y+weight*o.y
	m.xx, m.xy, m.yy = m.xx+weight*o.xx, m.xy+weight*o.xy, m.yy+weight*o.yy
}

// drawing takes moments of the light of stars under a Gaussian weight.
type drawing struct {
	a    aperture // as far as light counts
	sd   float64  // px, of the weight
	all  moments
	each []moments // of one star
	// variance of the difference of those along both axes, by noise
	variance float64
}

// draw takes the moments of stars around their places, moved by so much.
func (d *drawing) draw(there []stars.Star, dx, dy float64) {
	d.all, d.each, d.variance = moments{}, d.each[:0], 0
	for _, st := range there {
		x, y := st.X+dx, st.Y+dy
		if !d.a.lies(x, y) {
			continue
		}
		noise, _ := d.a.noise(x, y)
		weight := st.Flux / soughtVariance(noise, st.Flux)
		one, along := d.at(x, y, d.a.level(x, y))
		along *= weight * d.a.p.Mesh.NoiseAt(x, y)
		d.variance += along * along
		d.each = append(d.each, moments{})
		d.each[len(d.each)-1].add(one, weight)
		d.all.add(one, weight)
	}
}

// at are the moments around a place of light above a level, but for the filled-in pixels of
// a mosaic; noise is that of the difference of those along both axes, in sd of a pixel.
func (d *drawing) at(x, y, level float64) (m moments, noise float64) {
	d.a.each(x, y, func(i, j int, share float64) {
		if !d.a.p.Trusted(i, j) {
			return
		}
		x, y := float64(i)-x, float64(j)-y
		g := share * math.Exp(-(x*x+y*y)/(2*d.sd*d.sd))
		m.add(moments{1, x, y, x * x, x * y, y * y}, g*(float64(d.a.p.R[j*d.a.p.W+i])-level))
		noise = math.Hypot(noise, g*(x*x-y*y))
	})
	return m, noise
}

// drawn is how far the light of all stars together, of a half-flux diameter, is drawn out: by
// its second moments under a Gaussian as wide, whose share is taken off again, as is that of
// the pixels (1/C = 1/M - 1/W, of Gaussians).
func (a aperture) drawn(there []stars.Star, size float64) stars.Drawn {
	d := drawing{sd: size / stars.SigmaToFWHM}
	d.a = newAperture(a.p, drawnReach*d.sd)
	var dx, dy float64
	for range drawnRounds {
		if d.draw(there, dx, dy); !(d.all.light > 0) || len(d.each) < drawnFewest {
			return stars.Drawn{}
		}
		dx, dy = dx+d.all.x/d.all.light, dy+d.all.y/d.all.light
	}
	long, short, x, y := d.axes(d.all)
	if !(short > 0) {
		return stars.Drawn{}
	}
	mean := (long + short) / 2
	noise := math.Sqrt(d.variance) / (2 * mean * d.all.light) * d.enlarged(mean)
	return stars.Drawn{X: x, Y: y, Err: math.Hypot(max(noise, d.leftOut()), d.sampled(short)), N: len(d.each)}
}

// axes are the weighed variances of light along both axes, and its ellipticity without the weight, as a vector.
func (d *drawing) axes(m moments) (long, short, x, y float64) {
	mean, along, across := (m.xx+m.yy)/2/m.light, (m.xx-m.yy)/2/m.light, m.xy/m.light
	apart := math.Hypot(along, across)
	long, short = mean+apart, mean-apart
	e := 1 - math.Sqrt(d.unweighed(short)/d.unweighed(long))
	if apart > 0 {
		x, y = e*along/apart, e*across/apart
	}
	return long, short, x, y
}

// unweighed is a variance without what the weight and the pixels make of it.
func (d *drawing) unweighed(v float64) float64 {
	const finest = drawnFinest / stars.SigmaToFWHM
	wide := drawnWidest * drawnWidest * d.sd * d.sd
	if of := 1/v - 1/(d.sd*d.sd); of > 1/wide {
		wide = 1 / of
	}
	return max(finest*finest, wide-pixelSquares)
}

// enlarged is by how much a difference between variances grows where the weight is taken off.
func (d *drawing) enlarged(v float64) float64 {
	return 1 / (1 - min(v/(d.sd*d.sd), 1-1/drawnWidest))
}

// leftOut is the error of the ellipticity by what leaving out each star in turn makes of it
// (the jackknife).
func (d *drawing) leftOut() float64 {
	n := float64(len(d.each))
	var sx, sy, squares float64
	for _, one := range d.each {
		rest := d.all
		rest.add(one, -1)
		_, _, x, y := d.axes(rest)
		sx, sy, squares = sx+x, sy+y, squares+x*x+y*y
	}
	return math.Sqrt(max(0, (n-1)/n*(squares-(sx*sx+sy*sy)/n)/2))
}

// sampled is the error of the ellipticity by where the middles of stars lie between the
// pixels, a Gaussian's of a weighed variance: what its moments on a lattice are off by
// (Poisson's sum over the nearest waves of the lattice, of random phase), which for narrow
// stars, on half of a mosaic's pixels, is as much as the moments.
func (d *drawing) sampled(v float64) float64 {
	var light, squares float64
	for _, one := range d.each {
		light, squares = light+one.light, squares+one.light*one.light
	}
	waves := 2 * math.Pi * math.Pi * d.a.p.Density() * v
	return 2 * waves * math.Exp(-waves) * d.enlarged(v) * math.Sqrt(squares) / light
}
