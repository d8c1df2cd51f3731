package dust

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Dust is looked for on cells a few pixels wide, in two steps. Discs of growing
// size are held against the light around them (see candidates), which finds
// whatever may be a shadow at any size and is blind to slope and curvature of the
// illumination. Then each is looked at by itself: a shadow is darker than a
// surface through its surroundings in nearly every direction from its middle
// (rings and discs are; bands, edges, steps and the rim of a brighter place are
// not).
const (
	dustCells      = 400   // cells across the longer side, at most
	smallestRadius = 2.0   // cells
	nextRadius     = 1.3   // from one size of disc to the next
	candidateSigma = 5     // of what the same disc shows all over the frame
	shadowSigma    = 5     // of the mean depth, by the noise of cells
	minDepth       = 0.003 // of the light
	mostDepth      = 0.7   // deeper is a thing in the tube, or noise
	mostShadows    = 200   // more is a pattern and no dust
	sectors        = 8     // of the shadow
	darkSectors    = 7     // of these, at least, are dark
	rimSectors     = 12    // of its surroundings
	rimSeen        = 7     // of these, at least, are in the frame
	rimHidden      = 2     // of these, at most, lie in other shadows
	evenShare      = 0.6   // of the mean depth, by which each is lighter than the shadow
	sectorShare    = 0.35  // of the mean depth, from which one is dark
)

// Shadow is a dust shadow in a flat.
type Shadow struct {
	X, Y     float64 // px, centre
	Diameter float64 // px, where it is half as deep as at its darkest ring
	DepthPct float64 // light lost in its darkest ring, %
	On       string  // onWindow or onFilter, by the flats of other filters; "" when that is not known
}

// CellStep is how many pixels wide the cells of a flat of that size are to be
// for Shadows.
func CellStep(width, height int) int {
	step := max(2, (max(width, height)+dustCells-1)/dustCells)
	return step + step%2
}

// Shadows finds the shadows of a flat, given as the means of its cells, or of a
// median of flattened subs (1 where nothing is left): the strongest first. It is
// false where the frame is too small.
func Shadows(m stats.Map) ([]Shadow, bool) {
	if m.Width < 32 || m.Height < 32 {
		return nil, false
	}
	var found []Shadow
	for { // again without what was found, which hides what is weaker
		before := len(found)
		even := evened(m, without(m, found))
		for _, c := range candidates(without(even, found)) {
			if s, ok := settle(m, c, found); ok && !overlapsAny(found, s) {
				if l := around(even, s, found); l.dark() {
					found = append(found, s)
				}
			}
		}
		if len(found) == before || len(found) > mostShadows {
			break
		}
	}
	slices.SortFunc(found, func(a, b Shadow) int { return cmp.Compare(b.DepthPct*b.Diameter, a.DepthPct*a.Diameter) })
	return found, true
}

func without(m stats.Map, found []Shadow) stats.Map {
	m.Values = slices.Clone(m.Values)
	for _, s := range found {
		blank(m, Spot{s.X, s.Y, 0.6 * s.Diameter})
	}
	return m
}

// disc is a place that may be a shadow, in cells.
type disc struct{ x, y, radius, z float64 }

// candidates are places darker than their surroundings, the most significant
// first. The light inside a square of the area of a disc of radius R is compared
// with what two frames around it, A and B, foretell for it: their means,
// extrapolated against the mean squared distance from the middle to that of the
// square, which leaves out slope and curvature.
func candidates(m stats.Map) []disc {
	sums := newBoxSums(m)
	var all []disc
	here, contrasts := make([]disc, 0, len(m.Values)), make([]float64, 0, len(m.Values))
	for radius := smallestRadius; radius <= float64(min(m.Width, m.Height))/8; radius *= nextRadius {
		here, contrasts = here[:0], contrasts[:0]
		stride := max(1, int(radius/1.8))
		frames := framesOf(radius)
		// Discs lie inside the frame, and most of their surroundings do.
		for j := int(radius); j < m.Height-int(radius); j += stride {
			for i := int(radius); i < m.Width-int(radius); i += stride {
				c := sums.contrast(i, j, &frames)
				if math.IsNaN(c) {
					continue
				}
				here = append(here, disc{float64(i), float64(j), radius, c})
				contrasts = append(contrasts, c)
			}
		}
		sigma := stats.MADSigma(sparse(contrasts))
		for _, d := range here {
			if d.z > max(candidateSigma*sigma, minDepth/4) { // a thin ring fills a quarter of its disc
				d.z /= max(sigma, 1e-12)
				all = append(all, d)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b disc) int { return cmp.Compare(b.z, a.z) })
	return thinned(all)
}

// sparse is some thousands of many values, enough to tell their scatter.
func sparse(x []float64) []float64 {
	const enough = 4000
	every := max(1, len(x)/enough)
	var out []float64
	for i := 0; i < len(x); i += every {
		out = append(out, x[i])
	}
	return out
}

// thinned leaves out a place beside or around a more significant one.
func thinned(all []disc) []disc {
	const most = 300 // more is a pattern and no dust
	var kept []disc
	for _, d := range all {
		if len(kept) == most {
			break
		}
		if !slices.ContainsFunc(kept, func(k disc) bool { return math.Hypot(d.x-k.x, d.y-k.y) < 0.5*max(d.radius, k.radius) }) {
			kept = append(kept, d)
		}
	}
	return kept
}

// boxSums are sums over all cells before and under one, of which four make the
// sum over any rectangle. Unknown cells count nothing.
type boxSums struct {
	stats.Map
	sum, n []float64
}

func newBoxSums(m stats.Map) boxSums {
	w := m.Width + 1
	s := boxSums{m, make([]float64, w*(m.Height+1)), make([]float64, w*(m.Height+1))}
	for j := range m.Height {
		var sum, n float64
		for i := range m.Width {
			if v := m.At(i, j); !math.IsNaN(v) {
				sum += v
				n++
			}
			k := (j+1)*w + i + 1
			s.sum[k], s.n[k] = s.sum[k-w]+sum, s.n[k-w]+n
		}
	}
	return s
}

// over is the sum over a square of half a side around a cell, and its known cells.
func (s *boxSums) over(i, j, half int) (sum, n float64) {
	w := s.Width + 1
	x0, x1 := max(0, i-half), min(s.Width, i+half+1)
	y0, y1 := max(0, j-half)*w, min(s.Height, j+half+1)*w
	return s.sum[y1+x1] - s.sum[y1+x0] - s.sum[y0+x1] + s.sum[y0+x0], s.n[y1+x1] - s.n[y1+x0] - s.n[y0+x1] + s.n[y0+x0]
}

type framed struct {
	radius   float64 // of the disc
	half     [4]int  // half the sides of what they lie between, cells
	inward   float64 // mean squared distance from the middle, from the inner frame to the square
	outwards float64 // and from the inner frame to the outer
}

func framesOf(radius float64) framed {
	f := framed{radius: radius}
	var squared [4]float64
	for k, h := range [4]float64{math.Sqrt(math.Pi) / 2 * radius, 1.15*radius + 1, 1.6*radius + 1, 2.2*radius + 2} {
		f.half[k] = int(h + 0.5)
		whole := float64(f.half[k]) + 0.5
		squared[k] = 2 * whole * whole / 3
	}
	frame := func(k int) float64 { // mean squared distance within a frame
		in, out := squared[k-1], squared[k]
		return (out*out - in*in) / (out - in)
	}
	f.inward, f.outwards = frame(2)-squared[0], frame(3)-frame(2)
	return f
}

// contrast is how much darker a square is than its surroundings foretell, as a
// share of their light; NaN where too little of them is seen.
func (s *boxSums) contrast(i, j int, f *framed) float64 {
	var sum, n [4]float64
	for k, half := range f.half {
		sum[k], n[k] = s.over(i, j, half)
	}
	a, b := n[2]-n[1], n[3]-n[2]
	if n[0] < 2*f.radius*f.radius || a < 4*f.radius || b < 4*f.radius {
		return math.NaN()
	}
	inner, outer := (sum[2]-sum[1])/a, (sum[3]-sum[2])/b
	around := inner + (inner-outer)*f.inward/f.outwards
	return 1 - sum[0]/n[0]/around
}

// overlapsAny tells whether a shadow is another seen again: one's middle lies in
// the other.
func overlapsAny(found []Shadow, s Shadow) bool {
	return slices.ContainsFunc(found, func(f Shadow) bool {
		return math.Hypot(s.X-f.X, s.Y-f.Y) < max(s.Diameter, f.Diameter)/2
	})
}

// settle finds the middle, the width and the depth of a candidate, and tells
// whether it is a shadow.
func settle(m stats.Map, c disc, found []Shadow) (Shadow, bool) {
	half := float64(m.Step-1) / 2
	s := Shadow{X: c.x*float64(m.Step) + half, Y: c.y*float64(m.Step) + half, Diameter: 2 * c.radius * float64(m.Step)}
	var w window
	for range 3 {
		if !w.take(m, s, found) {
			return s, false
		}
		x, y, radius, depth, ok := w.shape()
		if !ok {
			return s, false
		}
		s.X, s.Y = (float64(w.i)+x)*float64(m.Step)+half, (float64(w.j)+y)*float64(m.Step)+half
		s.Diameter, s.DepthPct = 2*radius*float64(m.Step), 100*depth
	}
	return s, w.take(m, s, found) && w.middleWithin(m) && s.DepthPct >= 100*minDepth && s.DepthPct < 100*mostDepth
}

// surroundings are the light in and around a shadow, on an evened map.
type surroundings struct {
	inside float64 // mean
	cells  int     // in it
	far    float64 // median, farther away than its rim
	noise  float64 // of a cell of the rim
	in     [sectors]float64
	rim    [rimSectors]float64 // means by direction from its middle
	enough bool                // directions are seen
}

func around(m stats.Map, s Shadow, others []Shadow) (l surroundings) {
	u, v := m.Cell(s.X, s.Y)
	i, j := int(math.Round(u)), int(math.Round(v))
	radius := s.Diameter / 2 / float64(m.Step)
	var in [sectors][]float64
	var rim [rimSectors][]float64
	var hidden [rimSectors]int
	var inside, far, scatter []float64
	beside := within(others, s, (4*radius+3)*float64(m.Step))
	m.Near(i, j, int(4*radius)+2, func(di, dj int, z float64) {
		x, y := float64(i+di)-u, float64(j+dj)-v
		turn := func() float64 { return math.Atan2(y, x)/(2*math.Pi) + 0.5 }
		switch r := math.Hypot(x, y); {
		case r <= radius:
			at := int(turn()*sectors) % sectors
			in[at], inside = append(in[at], z), append(inside, z)
		case r > 1.15*radius+0.5 && r < 1.7*radius+2:
			at := int(turn()*rimSectors) % rimSectors
			if inAny(m, i+di, j+dj, beside) {
				hidden[at]++
			} else {
				rim[at] = append(rim[at], z)
			}
		case r > 2.2*radius+2 && r < 4*radius+2 && !inAny(m, i+di, j+dj, beside):
			far = append(far, z)
		}
	})
	for k := range in {
		l.in[k] = stats.Mean(in[k])
	}
	seen, behind := 0, 0
	for k := range rim {
		l.rim[k] = stats.Mean(rim[k])
		if len(rim[k]) > 0 {
			seen++
		} else if hidden[k] > 0 {
			behind++
		}
		for _, z := range rim[k] {
			scatter = append(scatter, z-l.rim[k])
		}
	}
	l.enough = seen >= rimSeen && behind <= rimHidden
	l.inside, l.cells, l.far, l.noise = stats.Mean(inside), len(inside), stats.Median(far), stats.MADSigma(scatter)
	return l
}

// dark tells whether a place is darker than its surroundings: by more than noise,
// in nearly all of its parts, than its rim in every direction, and than what lies
// farther away and the frame at large too, not only than something bright around it.
func (l *surroundings) dark() bool {
	var rim []float64
	for _, z := range l.rim {
		if !math.IsNaN(z) {
			rim = append(rim, z)
		}
	}
	depth := stats.Mean(rim) - l.inside
	if !l.enough || !(depth > shadowSigma*l.noise/math.Sqrt(float64(l.cells))) || l.far-l.inside < depth/2 || 1-l.inside < depth/4 {
		return false
	}
	darker := 0
	for _, z := range l.in {
		if math.IsNaN(z) || stats.Mean(rim)-z > sectorShare*depth {
			darker++
		}
	}
	return darker >= darkSectors && slices.Min(rim)-l.inside > evenShare*depth
}
