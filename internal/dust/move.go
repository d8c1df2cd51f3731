package dust

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// turn is a motion of the camera against the dust: a rotation about the middle
// of the frame, then a shift.
type turn struct {
	angle  float64 // radians, counter-clockwise
	dx, dy float64 // px
}

// partner is a shadow of the flat and the shadow of the subs that it became.
type partner struct {
	from *imprint
	to   Shadow

	x, y   float64 // px, displacement as measured
	spread float64 // diameter in the subs over the one in the flat
}

// follow looks for where the shadows that do not match lie in the subs, and
// whether one motion took them there.
func (r *residue) follow(d *Match, wrong []*imprint) {
	seen := r.asSeen()
	dark, _ := Shadows(smooth(seen))
	found := slices.DeleteFunc(dark, func(s Shadow) bool {
		for _, m := range d.Shadows { // what stayed where it was is no one's partner
			if !m.wrong() && math.Hypot(s.X-m.X, s.Y-m.Y) < s.Diameter/2 {
				return true
			}
		}
		return false
	})
	pairs, t := r.pairUp(d, wrong, found, seen)
	if len(pairs) == 0 {
		return
	}
	var spreads []float64
	for _, p := range pairs {
		d.markMoved(p.from.at, p.x, p.y)
		spreads = append(spreads, p.spread)
	}
	r.report(d, pairs, t)
	d.New = slices.DeleteFunc(d.New, func(s Shadow) bool { return r.cameIn(d, s) })
	n := float64(len(spreads))
	d.DiameterRatio = stats.Known(stats.Median(spreads), max(0.02, stats.MADSigma(spreads))/math.Sqrt(n), len(spreads))
}

// markMoved marks a shadow, by its number, as moved by so many px: what lies where it went is not new.
func (d *Match) markMoved(at int, x, y float64) {
	m := &d.Shadows[at]
	m.State, m.MovedX, m.MovedY = ShadowMoved, x, y
	d.New = slices.DeleteFunc(d.New, func(s Shadow) bool {
		return math.Hypot(s.X-m.X-x, s.Y-m.Y-y) < 0.6*max(s.Diameter, m.Diameter)
	})
}

// cameIn tells whether a shadow that the flat lacks may have been at its edge or
// beyond, before all moved.
func (r *residue) cameIn(d *Match, s Shadow) bool {
	x, y := s.X-d.ShiftX.V, s.Y-d.ShiftY.V
	reach := s.Diameter
	for _, m := range d.Shadows {
		reach = max(reach, m.Diameter)
	}
	return min(x, y, float64(r.Width*r.Step)-x, float64(r.Height*r.Step)-y) < reach
}

// asSeen is the flat as the subs would have it: with what the division left.
func (r *residue) asSeen() stats.Map {
	m := stats.Map{Width: r.Width, Height: r.Height, Step: r.Step, Values: slices.Clone(r.flat.Values)}
	for i, v := range r.Values {
		if !math.IsNaN(v) {
			m.Values[i] *= 1 + v
		}
	}
	return m
}

func alike(a, b Shadow) bool {
	size, depth := b.Diameter/a.Diameter, b.DepthPct/a.DepthPct
	return size > 1/1.6 && size < 1.6 && depth > 0.4 && depth < 2.5
}

// pairUp finds the motion that takes most shadows of the flat to one of the
// subs each. A shift alone goes before a rotation that explains no more: with
// enough shadows, some rotation fits a few by chance.
func (r *residue) pairUp(d *Match, wrong []*imprint, found []Shadow, seen stats.Map) ([]partner, turn) {
	var best []partner
	var how turn
	bestOff := math.Inf(1)
	try := func(t turn, fewest int) {
		pairs, off := r.pairsBy(t, d, wrong, found)
		if len(pairs) < fewest || len(pairs) < len(best) || len(pairs) == len(best) && off >= bestOff {
			return
		}
		best, how, bestOff = pairs, t, off
	}
	n := len(wrong)
	for _, a := range wrong {
		from := d.Shadows[a.at].Shadow
		for _, b := range found {
			dx, dy := b.X-from.X, b.Y-from.Y
			if !alike(from, b) || n == 1 && math.Hypot(dx, dy) > 3*from.Diameter {
				continue
			}
			try(turn{dx: dx, dy: dy}, min(n, max(2, (2*n+4)/5)))
		}
	}
	shifted := len(best)
	for i, a := range wrong {
		for _, a2 := range wrong[i+1:] {
			for _, b := range found {
				for _, b2 := range found {
					if t, ok := r.turnOf(d.Shadows[a.at].Shadow, d.Shadows[a2.at].Shadow, b, b2); ok {
						try(t, max(3, (3*n+4)/5, shifted+1))
					}
				}
			}
		}
	}
	if 2*len(best) < n {
		if near, t := r.nearby(d, wrong, seen); len(near) > len(best) {
			best, how = near, t
		}
	}
	pairs := best[:0:0]
	for _, p := range best {
		if p.measure(r, seen) {
			pairs = append(pairs, p)
		}
	}
	return pairs, how
}

// nearby looks for one short shift that puts most shadows of the flat on dark
// places of the subs. It fits the surroundings of each place anew, so that it
// sees shadows in a nebula among whose knots no patch stands out as dark.
func (r *residue) nearby(d *Match, wrong []*imprint, seen stats.Map) ([]partner, turn) {
	if len(wrong) < 2 {
		return nil, turn{}
	}
	reach := 0.0
	for _, a := range wrong {
		reach = max(reach, 2.5*a.radius)
	}
	step := max(1, int(wrong[0].radius/5))
	best, bu, bv := 0.0, 0, 0
	there := func(a *imprint, u, v int) float64 { // share of the shadow's depth
		c, ok := a.amplitude(seen, a.i+u, a.j+v)
		if !ok {
			return 0
		}
		return min(1, max(0, -c/seen.At(a.i+u, a.j+v)))
	}
	search := func(u0, v0, wide, step int) {
		for v := v0 - wide; v <= v0+wide; v += step {
			for u := u0 - wide; u <= u0+wide; u += step {
				sum := 0.0
				for _, a := range wrong {
					if seen.Inside(a.i+u, a.j+v) {
						sum += there(a, u, v)
					}
				}
				if sum > best {
					best, bu, bv = sum, u, v
				}
			}
		}
	}
	search(0, 0, int(reach)/step*step, step)
	search(bu, bv, step-1, 1)
	t := turn{dx: float64(bu * r.Step), dy: float64(bv * r.Step)}
	var pairs []partner
	for _, a := range wrong {
		if seen.Inside(a.i+bu, a.j+bv) && there(a, bu, bv) > 0.5 {
			to := d.Shadows[a.at].Shadow
			to.X, to.Y = to.X+t.dx, to.Y+t.dy
			pairs = append(pairs, partner{from: a, to: to})
		}
	}
	if len(pairs) < max(2, (2*len(wrong)+4)/5) {
		return nil, turn{}
	}
	return pairs, t
}

// turnOf is the motion that takes a to b and a2 to b2; false when the two
// distances differ or the shadows do.
func (r *residue) turnOf(a, a2, b, b2 Shadow) (turn, bool) {
	ux, uy, vx, vy := a2.X-a.X, a2.Y-a.Y, b2.X-b.X, b2.Y-b.Y
	long := math.Hypot(ux, uy)
	if b == b2 || !alike(a, b) || !alike(a2, b2) || math.Abs(math.Hypot(vx, vy)-long) > 0.2*(a.Diameter+a2.Diameter) || long < a.Diameter+a2.Diameter {
		return turn{}, false
	}
	t := turn{angle: math.Atan2(ux*vy-uy*vx, ux*vx+uy*vy)}
	mx, my := r.move(t, (a.X+a2.X)/2, (a.Y+a2.Y)/2)
	t.dx, t.dy = (b.X+b2.X)/2-mx, (b.Y+b2.Y)/2-my
	return t, true
}

func (r *residue) move(t turn, x, y float64) (float64, float64) {
	cx, cy := float64(r.Width*r.Step-1)/2, float64(r.Height*r.Step-1)/2
	sin, cos := math.Sincos(t.angle)
	return cx + cos*(x-cx) - sin*(y-cy) + t.dx, cy + sin*(x-cx) + cos*(y-cy) + t.dy
}

// pairsBy gives each shadow the nearest alike one where a motion takes it, and
// the sum of squares of what they are off.
func (r *residue) pairsBy(t turn, d *Match, wrong []*imprint, found []Shadow) (pairs []partner, off float64) {
	taken := make([]bool, len(found))
	for _, a := range wrong {
		from := d.Shadows[a.at].Shadow
		x, y := r.move(t, from.X, from.Y)
		nearest, best := -1, max(0.3*from.Diameter, 2*float64(r.Step))
		for k, b := range found {
			if apart := math.Hypot(b.X-x, b.Y-y); !taken[k] && apart < best && alike(from, b) {
				nearest, best = k, apart
			}
		}
		if nearest >= 0 {
			taken[nearest] = true
			off += best * best
			pairs = append(pairs, partner{from: a, to: found[nearest]})
		}
	}
	return pairs, off
}

// measure lays the flat's shadow over the subs' one, moved and widened until it
// correlates best; false when it never does well.
func (p *partner) measure(r *residue, seen stats.Map) bool {
	w, ok := newWindow(seen, p.to, nil)
	if !ok {
		return false
	}
	shape := p.from.picture(p.from.depth)
	reach := math.Round(max(3, 0.4*w.radius))
	best, bu, bv, bs := -1.0, 0.0, 0.0, 1.0
	search := func(u0, v0, s0, wide, step, stretch, by float64) {
		for s := s0 - stretch; s <= s0+stretch+1e-9; s += by {
			for v := v0 - wide; v <= v0+wide+1e-9; v += step {
				for u := u0 - wide; u <= u0+wide+1e-9; u += step {
					if c := w.correlation(shape, u, v, s); c > best {
						best, bu, bv, bs = c, u, v, s
					}
				}
			}
		}
	}
	search(0, 0, 1, reach, 1, 0.4, 0.1)
	search(bu, bv, bs, 0.75, 0.25, 0.05, 0.05)
	search(bu, bv, bs, 0.2, 0.1, 0.02, 0.02)
	step := float64(r.Step)
	p.x, p.y = (float64(w.i-p.from.i)+bu)*step, (float64(w.j-p.from.j)+bv)*step
	p.spread = bs
	// Where it has not moved by half a cell nor changed its width, the depth has.
	return best > 0.6 && (math.Hypot(p.x, p.y) > step/2 || math.Abs(bs-1) > 0.05)
}

// correlation of the window's shadow with a picture of another, whose middle is
// put at u, v and which is s times as wide.
func (w *window) correlation(shape stats.Map, u, v, s float64) float64 {
	n := float64(shape.Width-1) / 2
	var ab, aa, bb float64
	for k, c := range w.cells {
		z := shape.Sample(n+(float64(c[0])-u)/s, n+(float64(c[1])-v)/s)
		if math.IsNaN(z) {
			z = 0 // beyond the other's window
		}
		ab += z * w.depth[k]
		aa += z * z
		bb += w.depth[k] * w.depth[k]
	}
	if !(aa > 0) || !(bb > 0) {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// report is the rigid motion that fits the pairs best, by least squares
// (Procrustes: the angle from the sums of inner and outer products). Without a
// rotation in the pairing, one that is no more than its error is left out.
func (r *residue) report(d *Match, pairs []partner, t turn) {
	n := float64(len(pairs))
	var mx, my, tx, ty float64 // mean places in the flat and in the subs
	for _, p := range pairs {
		s := d.Shadows[p.from.at]
		mx, my, tx, ty = mx+s.X/n, my+s.Y/n, tx+(s.X+p.x)/n, ty+(s.Y+p.y)/n
	}
	var inner, outer, lever float64
	for _, p := range pairs {
		s := d.Shadows[p.from.at]
		ax, ay, bx, by := s.X-mx, s.Y-my, s.X+p.x-tx, s.Y+p.y-ty
		inner += ax*bx + ay*by
		outer += ax*by - ay*bx
		lever += ax*ax + ay*ay
	}
	fitted := turn{}
	if len(pairs) >= 2 {
		fitted.angle = math.Atan2(outer, inner)
	}
	off := func(t turn) float64 { // per coordinate
		sum := 0.0
		for _, p := range pairs {
			s := d.Shadows[p.from.at]
			x, y := r.move(t, s.X, s.Y)
			sum += math.Pow(x-s.X-p.x, 2) + math.Pow(y-s.Y-p.y, 2)
		}
		return max(0.1*float64(r.Step), math.Sqrt(sum/max(1, 2*n-3)))
	}
	settle := func(t turn) turn {
		t.dx, t.dy = 0, 0
		x, y := r.move(t, mx, my)
		t.dx, t.dy = tx-x, ty-y
		return t
	}
	fitted = settle(fitted)
	angleErr := off(fitted) / math.Sqrt(lever)
	if t.angle == 0 && !(len(pairs) >= 3 && math.Abs(fitted.angle) > 4*angleErr) {
		fitted = settle(turn{})
	}
	err := off(fitted) / math.Sqrt(n)
	d.ShiftX, d.ShiftY = stats.Known(fitted.dx, err, len(pairs)), stats.Known(fitted.dy, err, len(pairs))
	if len(pairs) >= 2 {
		d.RotationDeg = stats.Known(fitted.angle*180/math.Pi, angleErr*180/math.Pi, len(pairs))
	} else {
		d.RotationDeg = stats.Missing(OneMoved)
	}
}
