package registration

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

const (
	credibleStars = 60   // brightest stars that are asked
	credibleReach = 2.0  // px within which they must fall on a star
	credibleShare = 0.25 // least share of either field's that do, where both see the sky
	credibleOdds  = 1e-6 // of the pairs being chance
	displaced     = 25.0 // px, of the maps that tell chance
)

// credible tells whether a map found among many is better than chance makes it.
// Stars do not lie at random: clusters, knots on spikes and hot columns fall on each
// other under wrong maps too. So chance is what the same map makes when it is moved
// aside, in sixteen directions and distances. And of the brightest stars of one of
// the two fields at least a quarter must be in the other: a map that ties a few
// faint ones while the bright ones have no partner is wrong.
func (m *matcher) credible(f *stars.Field, t Transform) bool {
	here := brightest(f, credibleStars)
	pairs, inside := m.hits(here, t, 0, 0)
	most := 0
	for k := range 16 {
		sn, cs := math.Sincos(float64(k) * 2 * math.Pi / 16)
		far := displaced * (1 + float64(k%3)/2)
		n, _ := m.hits(here, t, far*cs, far*sn)
		most = max(most, n)
	}
	if stats.PoissonTail(pairs, max(0.01, float64(most)/2)) > credibleOdds {
		return false
	}
	other := newMatcher(f)
	back, insideBack := other.hits(brightest(m.ref, credibleStars), t.Inverse(), 0, 0)
	share := func(n, of int) float64 { return float64(n) / math.Max(1, float64(of)) }
	return max(share(pairs, inside), share(back, insideBack)) >= credibleShare
}

// rival is a match, or the one that ties more stars where the field is not turned,
// or by half a turn: spikes and clusters look alike from several sides, and stars that a
// jump left twice lie on their second images too, but only one map ties the rest of the sky.
func (m *matcher) rival(f *stars.Field, a tie) tie {
	best := a
	if math.Abs(a.RotationDeg.V) < 1 && 2*len(a.Pairs) > min(len(f.Stars), len(m.ref.Stars)) {
		return a // the usual: no other map ties as much
	}
	for _, turned := range []bool{false, true} {
		t, ok := m.shift(f, turned)
		if !ok {
			continue
		}
		if b, ok := m.refine(f, t, math.Sqrt2*shiftCell); ok && len(b.Pairs) > len(best.Pairs) {
			best = b
		}
	}
	return best
}

// shiftCell is the side of the cells in which shifts are counted, px: one that is counted in
// two by two of them is off their middle by less along each axis.
const shiftCell = 4

// shift is the map without a rotation, or with half a turn, on which most of the
// brightest stars agree.
func (m *matcher) shift(f *stars.Field, turned bool) (Transform, bool) {
	sign := 1.0
	if turned {
		sign = -1
	}
	count := map[[2]int]int{}
	var best [2]int
	for _, p := range brightest(f, credibleStars) {
		for _, r := range brightest(m.ref, credibleStars) {
			c := [2]int{int(math.Floor((r.x - sign*p.x) / shiftCell)), int(math.Floor((r.y - sign*p.y) / shiftCell))}
			for dx := range 2 { // each shift counts in four cells, so that no edge splits it
				for dy := range 2 {
					at := [2]int{c[0] - dx, c[1] - dy}
					if count[at]++; count[at] > count[best] {
						best = at
					}
				}
			}
		}
	}
	t := Transform{A: sign, C: float64(best[0]+1) * shiftCell, E: sign, F: float64(best[1]+1) * shiftCell}
	return t, count[best] >= minStars
}

// hits counts how many points a map, moved aside, brings onto stars of the
// reference, and how many into its frame.
func (m *matcher) hits(points []point, t Transform, dx, dy float64) (n, inside int) {
	for _, p := range points {
		x, y := t.Apply(p.x, p.y)
		if x, y = x+dx, y+dy; x < 0 || y < 0 || x > float64(m.ref.Width-1) || y > float64(m.ref.Height-1) {
			continue
		}
		inside++
		hit := false
		m.index.Within(x, y, credibleReach, func(int) { hit = true })
		if hit {
			n++
		}
	}
	return n, inside
}
