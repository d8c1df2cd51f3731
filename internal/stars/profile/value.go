package profile

// value gives the profile of unit amplitude over a pixel and its derivatives by
// x, y and the three of shape (in grad[0], [1], [4..6]). The table of the
// profile is laid for the exponent of p.
func (f *fitter) value(p *params, px, py float64, grad *params) float64 {
	k, beta := f.radial.k, f.radial.beta
	cxx, cxy, cyy := p[4], p[5], p[6]
	var tx, ty float64
	if f.trail {
		cxx, cxy, cyy = p[4], 0, p[4]
		tx, ty = p[5], p[6]
	}
	trace := 2 * (cxx + cyy)
	fourth := biharmonic * trace * trace
	// The sums stay in registers: this is the loop that fits spend their time in.
	var sum, gx, gy, g4, g5, g6 float64
	for i := range f.nodes {
		n := &f.nodes[i]
		dx, dy := px+n.dx-p[0]-n.t*tx, py+n.dy-p[1]-n.t*ty
		ax, ay := cxx*dx+cxy*dy, cxy*dx+cyy*dy
		u := ax*dx + ay*dy
		if u < 0 {
			u = 0
		}
		m, over := f.radial.at(u), 1/(1+k*u)
		d1 := -beta * k * m * over
		v, slope := m, d1
		if f.laplace {
			d2 := -(beta + 1) * k * d1 * over
			d3 := -(beta + 2) * k * d2 * over
			d4 := -(beta + 3) * k * d3 * over
			v += (d1*trace+d2*4*(ax*ax+ay*ay))*(1./24) + fourth*(2*d2+u*(4*d3+u*d4))
			// The derivative along u of the correction, without the change of
			// the square itself, is enough to steer the fit.
			slope += d2 * trace * (1. / 24)
		}
		sum += n.w * v
		g := n.w * slope
		x, y := -2*g*ax, -2*g*ay
		gx += x
		gy += y
		if f.trail {
			g4 += g * (dx*dx + dy*dy)
			g5 += x * n.t
			g6 += y * n.t
		} else {
			g4 += g * dx * dx
			g5 += g * 2 * dx * dy
			g6 += g * dy * dy
		}
	}
	grad[0], grad[1], grad[4], grad[5], grad[6] = gx, gy, g4, g5, g6
	return sum
}

// layPlain is lay with one pixel after another.
func (f *fitter) layPlain(table []params, stamp []sample, p *params) {
	for i, s := range stamp {
		g := &table[i]
		v := f.value(p, s.x, s.y, g)
		g[0], g[1] = p[2]*g[0], p[2]*g[1]
		g[2], g[3] = v, 1
		g[4], g[5], g[6] = p[2]*g[4], p[2]*g[5], p[2]*g[6]
		g[residual] = s.v - p[3] - p[2]*v
	}
}
