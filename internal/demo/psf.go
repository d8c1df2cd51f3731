package demo

import "math"

const (
	beta = 3.5 // Moffat exponent
	over = 6   // table points per pixel along each axis, even
)

// psf is the image of a point source: the fraction of its light that falls on
// a pixel whose centre lies (dx, dy) from the star, in a table with over points
// per pixel.
type psf struct {
	radius float64 // px that the table reaches
	side   int
	table  []float32

	fwhm        float64 // px, geometric mean of the axes, before integration over pixels
	fwhmPixel   float64 // px, the same after it
	ellipticity float64 // of the trail; 0 for a round image
	angle       float64 // degrees
}

// newPSF makes the image of a star of Moffat shape (FWHM in px), spread over
// an out-of-focus disc of diameter blur px and along a trail of length px at
// angle degrees.
func newPSF(fwhm, blur, length, angle float64) *psf {
	radius := 34 + blur/2 + length/2
	half := int(math.Ceil(radius * over))
	radial := blurred(fwhm, blur, radius+length/2+2)

	sin, cos := math.Sincos(angle * math.Pi / 180)
	side := 2*half + 1
	fine := make([]float32, side*side)
	if steps := 1 + 2*int(math.Ceil(length)); steps == 1 {
		radial.draw(fine, half)
	} else {
		radial.drawTrail(fine, half, steps, length, angle)
	}
	p := &psf{radius: float64(half)/over - 1, side: side, table: fine}
	major, minor := p.width(cos, sin), p.width(-sin, cos)
	p.fwhm = math.Sqrt(major * minor)
	if length > 0 {
		p.ellipticity, p.angle = 1-minor/major, foldAngle(angle)
	}
	p.table = integrate(fine, side)
	major, minor = p.width(cos, sin), p.width(-sin, cos)
	p.fwhmPixel = math.Sqrt(major * minor)
	return p
}

// profile is a radial profile, tabulated in equal steps of the radius.
type profile struct{ values []float32 }

const perPixel = 20 // steps of a profile in one px

func (p profile) at(r2 float64) float32 {
	r := math.Sqrt(r2) * perPixel
	i := int(r)
	if i+1 >= len(p.values) {
		return 0
	}
	t := float32(r - float64(i))
	return p.values[i] + t*(p.values[i+1]-p.values[i])
}

// draw fills a table of 2 half + 1 points a side: a quarter is looked up, the others mirror it.
func (p profile) draw(fine []float32, half int) {
	side := 2*half + 1
	for j := range half + 1 {
		y, row := float64(j-half)/over, fine[j*side:][:side]
		for i := range half + 1 {
			x := float64(i-half) / over
			row[i] = p.at(x*x + y*y)
			row[side-1-i] = row[i]
		}
		copy(fine[(side-1-j)*side:], row)
	}
}

// drawTrail does so with the mean of profiles along a trail of length px at angle degrees.
func (p profile) drawTrail(fine []float32, half, steps int, length, angle float64) {
	sin, cos := math.Sincos(angle * math.Pi / 180)
	side := 2*half + 1
	for j := range side {
		y := float64(j-half) / over
		for i := range side {
			x := float64(i-half) / over
			var sum float32
			for k := range steps {
				d := length * ((float64(k)+0.5)/float64(steps) - 0.5)
				dx, dy := x-d*cos, y-d*sin
				sum += p.at(dx*dx + dy*dy)
			}
			fine[j*side+i] = sum / float32(steps)
		}
	}
}

// blurred is a Moffat profile of unit volume convolved with the ring that the
// pupil makes out of focus.
func blurred(fwhm, blur, reach float64) profile {
	g := coreRadius(fwhm)
	peak := (beta - 1) / (math.Pi * g * g)
	moffat := func(r2 float64) float64 { return peak * math.Pow(1+r2/(g*g), -beta) }

	p := profile{values: make([]float32, int(reach*perPixel)+2)}
	const rings, spokes = 8, 24
	for i := range p.values {
		r := float64(i) / perPixel
		if blur == 0 {
			p.values[i] = float32(moffat(r * r))
			continue
		}
		var sum float64
		for k := range rings { // rings of equal area
			f := (float64(k) + 0.5) / rings
			a := blur / 2 * math.Sqrt(obstruction*obstruction+f*(1-obstruction*obstruction))
			for m := range spokes {
				phi := 2 * math.Pi * (float64(m) + 0.5) / spokes
				sum += moffat(r*r + a*a - 2*r*a*math.Cos(phi))
			}
		}
		p.values[i] = float32(sum / (rings * spokes))
	}
	return p
}

// coreRadius is g of the Moffat profile (1 + r²/g²)^-beta with a given FWHM,
// which is 2 g sqrt(2^(1/beta) - 1) (Moffat 1969).
func coreRadius(fwhm float64) float64 { return fwhm / (2 * math.Sqrt(math.Pow(2, 1/beta)-1)) }

// integrate replaces every point by the integral over the pixel around it
// (trapezium rule along both axes).
func integrate(fine []float32, side int) []float32 {
	const reach = over / 2 // 3, as sumSeven has it
	rows, out := make([]float32, len(fine)), make([]float32, len(fine))
	padded := make([]float32, side+2*reach) // no light beyond the table
	for line := range side {
		copy(padded[reach:], fine[line*side:][:side])
		sumSeven(rows[line*side:][:side], func(k int) []float32 { return padded[reach+k:] })
	}
	dark := make([]float32, side)
	for line := range side {
		sumSeven(out[line*side:][:side], func(k int) []float32 {
			if line+k < 0 || line+k >= side {
				return dark
			}
			return rows[(line+k)*side:]
		})
	}
	return out
}

// sumSeven is the integral from -3 to 3 points off each, by the trapezium rule; a line has
// the points k off.
func sumSeven(dst []float32, line func(k int) []float32) {
	n := len(dst)
	a, b, c, d, e, f, g := line(-3)[:n], line(-2)[:n], line(-1)[:n], line(0)[:n], line(1)[:n], line(2)[:n], line(3)[:n]
	for i := range dst {
		dst[i] = (0.5*a[i] + b[i] + c[i] + d[i] + e[i] + f[i] + 0.5*g[i]) / over
	}
}

// at is the table at (x, y) px from the star, bilinear.
func (p *psf) at(x, y float64) float32 {
	half := float64(p.side / 2)
	fx, fy := x*over+half, y*over+half
	i, j := int(fx), int(fy)
	if fx < 0 || fy < 0 || i+1 >= p.side || j+1 >= p.side {
		return 0
	}
	tx, ty := float32(fx-float64(i)), float32(fy-float64(j))
	k := j*p.side + i
	a := p.table[k] + tx*(p.table[k+1]-p.table[k])
	b := p.table[k+p.side] + tx*(p.table[k+p.side+1]-p.table[k+p.side])
	return a + ty*(b-a)
}

// width is the full width at half maximum through the centre along a direction.
func (p *psf) width(cos, sin float64) float64 {
	half := p.at(0, 0) / 2
	lo, hi := 0.0, p.radius
	for range 40 {
		mid := (lo + hi) / 2
		if p.at(mid*cos, mid*sin) > half {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + hi
}

// foldAngle brings an angle of an axis into (-90, 90] degrees.
func foldAngle(deg float64) float64 {
	deg = math.Mod(deg, 180)
	if deg <= -90 {
		deg += 180
	}
	if deg > 90 {
		deg -= 180
	}
	return deg
}
