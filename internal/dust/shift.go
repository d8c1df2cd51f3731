package dust

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

const (
	shiftSigma  = 6   // significance of a shift that shadows share: the best of some hundred
	sharesSigma = 3   // of each shadow that shares in it
	sharesUpTo  = 0.4 // by how much what a shadow leaves may differ from what the shift leaves: cells sample sharp edges roughly
	leastShift  = 1.  // px: within it dust lies where it did
)

// shifting is a shadow of the flat in the search of a shift that shadows share.
type shifting struct {
	window
	at    int       // index in Match.Shadows
	shape stats.Map // its depth
	left  []float64 // of the subs in its window, without slope and curvature
	noise float64   // variance of these
}

// shifted looks for one short shift that two or more shadows share, twice as many as were
// found where they are now, which tells more, and marks them as moved. Where dust D moved by t the division leaves D(x) - D(x - t). The half of it that
// is odd about the shadow, (D(x + t) - D(x - t)) / 2, is left by no other depth, and the
// flat's noise at x is not in it. Sky that lies there by chance leaves no two shadows
// the same shift, so that no dither is needed to tell.
func (r *residue) shifted(d *Match, all []Shadow) {
	var look []*shifting
	for k, m := range d.Shadows {
		if s, ok := r.shifting(k, m, all); ok {
			look = append(look, s)
		}
	}
	if len(look) == 0 {
		return
	}
	reach := typicalRadius(look)
	d.WithinPx = float64(r.Step) * min(r.tells(look, all), reach/2)
	if len(look) < 2 {
		return
	}
	t, gain := bestShift(look, reach)
	if off := math.Hypot(t.dx, t.dy); gain < shiftSigma*shiftSigma || off*float64(r.Step) < leastShift || off > reach/2 {
		return // dust that moved further is found where it is now
	}
	var sharing []*shifting
	sum, weight := 0.0, 0.0
	for _, s := range look {
		if a, sigma, ok := r.amplitude(s, t, all); ok && a > sharesSigma*sigma && math.Abs(a-1) < max(sharesUpTo, 3*sigma) {
			sharing = append(sharing, s)
			sum, weight = sum+a/(sigma*sigma), weight+1/(sigma*sigma)
		}
	}
	if len(sharing) < max(2, 2*d.count(ShadowMoved)) || sum < shiftSigma*math.Sqrt(weight) {
		return
	}
	r.share(d, sharing, t, 1/math.Sqrt(weight))
}

// tells is the shift, in cells, that shadows tell nineteen times of twenty in the direction
// that shows it least; one alone tells none. Of a shift of a cell or less some three quarters
// show, since cells blur what is sharper than they are (by made nights).
func (r *residue) tells(look []*shifting, all []Shadow) (least float64) {
	const surely, ways, shown = 1.64, 4, 0.75 // sigma; directions
	for way := range ways {
		sn, cs := math.Sincos(float64(way) * math.Pi / ways)
		sum, each := 0.0, []float64{0, 0} // what a shift of one cell shows, in its errors
		for _, s := range look {
			if _, sigma, ok := r.amplitude(s, turn{dx: cs, dy: sn}, all); ok {
				sum, each = sum+1/(sigma*sigma), append(each, 1/sigma)
			}
		}
		second := stats.SelectKth(each, len(each)-2)
		least = max(least, (shiftSigma+surely)/math.Sqrt(sum), (sharesSigma+surely)/second)
	}
	return least / shown
}

// amplitude is how much of what a shift leaves of a shadow is there, and its error by what
// the same looks like elsewhere.
func (r *residue) amplitude(s *shifting, t turn, all []Shadow) (a, sigma float64, ok bool) {
	odd := s.window
	odd.depth, odd.bare = s.odd(t), nil
	a, _, ok = odd.look(r.Map, s.i, s.j)
	sigma, _, _, known := r.elsewhere(&odd, all)
	return a, sigma, ok && known
}

// share marks shadows as moved by a shift, known to a part of it.
func (r *residue) share(d *Match, sharing []*shifting, t turn, part float64) {
	step := float64(r.Step)
	for _, s := range sharing {
		d.markMoved(s.at, t.dx*step, t.dy*step)
		d.Shadows[s.at].Why = fact.Fact{}
	}
	d.RotationDeg, d.DiameterRatio = stats.Missing(OnlyShift), stats.Missing(OnlyShift)
	err := part * math.Hypot(t.dx, t.dy) * step
	d.ShiftX, d.ShiftY = stats.Known(t.dx*step, err, len(sharing)), stats.Known(t.dy*step, err, len(sharing))
}

// shifting is a shadow of which the subs' sky tells.
func (r *residue) shifting(k int, m ShadowMatch, all []Shadow) (*shifting, bool) {
	if !m.Imprint.OK() || m.Imprint.N == 0 {
		return nil, false
	}
	s := &shifting{at: k}
	if !s.take(r.flat, m.Shadow, all) {
		return nil, false
	}
	s.shape, s.left = s.picture(s.depth), s.cut(r.Map)
	s.strip()
	energy := 0.0
	for _, v := range s.bare {
		energy += v * v
	}
	s.noise = m.Imprint.Err * m.Imprint.Err * energy
	return s, s.noise > 0
}

func (s *shifting) odd(t turn) []float64 {
	n := float64(s.shape.Width-1) / 2
	left := make([]float64, len(s.cells))
	for k, c := range s.cells {
		if !s.blind[k] {
			x, y := n+float64(c[0]), n+float64(c[1])
			left[k] = (cubic(s.shape, x+t.dx, y+t.dy) - cubic(s.shape, x-t.dx, y-t.dy)) / 2
		}
	}
	return left
}

// gain is by how much a shift explains what is left of a shadow, in squares of its noise;
// nothing where it did not move.
func (s *shifting) gain(t turn) float64 {
	sum := 0.0
	for k, v := range s.odd(t) {
		if left := s.left[k]; !math.IsNaN(left) {
			sum += v * (2*left - v)
		}
	}
	return max(0, sum/s.noise)
}

func typicalRadius(look []*shifting) float64 {
	var radii []float64
	for _, s := range look {
		radii = append(radii, s.radius)
	}
	return stats.Median(radii)
}

// bestShift is the shift within reach, in cells, that explains most.
func bestShift(look []*shifting, reach float64) (best turn, most float64) {
	try := func(t turn) {
		sum := 0.0
		for _, s := range look {
			sum += s.gain(t)
		}
		if sum > most {
			best, most = t, sum
		}
	}
	const across, finest = 4, 0.02
	search := func(about turn, step float64, n int) {
		for v := -n; v <= n; v++ {
			for u := -n; u <= n; u++ {
				try(turn{dx: about.dx + float64(u)*step, dy: about.dy + float64(v)*step})
			}
		}
	}
	search(turn{}, reach/across, across)
	for step := reach / across / 2; step > finest; step /= 2 {
		search(best, step, 1)
	}
	return best, most
}
