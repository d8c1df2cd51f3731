package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
)

// The rim of a ghost or a halo, a faint spike and a filament of nebula are ridges of
// light, at whose unevenness the search finds stars. A star is dark around; on a ridge
// the light goes on to two sides at about the same height, which is followed step by
// step, as rims are curved. A star of its own stands high above the ridge it lies on.

const (
	ridgeAngles  = 16   // directions that are looked in
	ridgeFirst   = 1.25 // FWHM of the first step to either side
	ridgeStep    = 0.75 // of each of the next
	ridgeSteps   = 3
	ridgeTurn    = math.Pi / 6 // most that a ridge turns from step to step
	ridgeOpposed = -0.34       // cosine of the angle between its two sides at most: 110°
	ridgeMost    = 2.0         // times the height: what is brighter is a neighbour
	ridgeOthers  = 2           // of these, that make it known
	ridgeCrowd   = 4           // stars around for each knot, more of which are a crowd
)

// limits are the lights of a ridge's steps, over the height in the middle: of the
// lowest, and their mean; or as many of the directions that reach this, on a broad one.
type limits struct {
	least, mean float64
	directions  int
	reach       float64 // FWHM within which others are part of it
}

var unknownRidge, knownRidge = limits{0.35, 0.5, 9, 15}, limits{0.1, 0.35, 6, 15}

// TakeRidges parts what lies on ridges from a list of stars; knots are known to lie on
// some, unless stars crowd around them: some are stars then.
func TakeRidges(p *plane.Plane, list, knots []stars.Star, s Seeing, threshold float64) (left, ridges []stars.Star) {
	w := newWalker(p, s)
	on := func(l limits) func(st *stars.Star) bool {
		return func(st *stars.Star) bool { return !st.Saturated && w.onRidge(st, l, threshold) }
	}
	knots = uncrowded(knots, list, unknownRidge.reach*s.Fwhm)
	// Neighbours make a ridge of a star here and there, where these stand close.
	_, maybe := w.part(list, on(unknownRidge))
	left = list
	for known, l := slices.Concat(knots, maybe), unknownRidge; len(known) > 0; l = knownRidge {
		near := stars.NewNeighbours(known)
		var more []stars.Star
		left, more = w.part(left, func(st *stars.Star) bool {
			others := 0
			near.Within(st.X, st.Y, l.reach*s.Fwhm, func(k int) {
				if known[k].X != st.X || known[k].Y != st.Y {
					others++
				}
			})
			return others >= ridgeOthers && on(l)(st)
		})
		if len(more) == 0 && l == knownRidge {
			break
		}
		ridges = append(ridges, more...)
		known = slices.Concat(knots, ridges)
	}
	return left, ridges
}

// uncrowded are the knots that have few stars around for one of them.
func uncrowded(knots, list []stars.Star, reach float64) []stars.Star {
	others, all := stars.NewNeighbours(knots), stars.NewNeighbours(list)
	return slices.DeleteFunc(slices.Clone(knots), func(st stars.Star) bool {
		room := 0
		others.Within(st.X, st.Y, reach, func(int) { room += ridgeCrowd })
		all.Within(st.X, st.Y, reach, func(int) { room-- })
		return room < 0
	})
}

// part splits a list into those that are not and those that are; it is left as it is.
func (w *walker) part(list []stars.Star, are func(st *stars.Star) bool) (not, some []stars.Star) {
	kept := 0 // of the list, up to here
	for i := range list {
		if i+1 < len(list) {
			w.around.Fetch(int(list[i+1].X), int(list[i+1].Y))
		}
		if are(&list[i]) {
			not, some = append(not, list[kept:i]...), append(some, list[i])
			kept = i + 1
		}
	}
	if kept == 0 { // as of most frames
		return list, nil
	}
	return append(not, list[kept:]...), some
}

// ridgeUnit is the length of a step of 1, in standard deviations of a star so seen.
const ridgeUnit = 1.8

// walker looks around stars in units of their size and form.
type walker struct {
	p          *plane.Plane
	half       int     // px: what is looked at are squares of 2 half + 1
	xx, xy, yy float64 // x = xx u, y = xy u + yy v: circles of u, v have the star's form
	directions [ridgeAngles][2]float64
	ring       *plane.Ring // tells the level
	around     plane.Around
	level      float64
}

func newWalker(p *plane.Plane, s Seeing) *walker {
	w := &walker{p: p, ring: ringAround(s), half: max(1, int(0.4*s.Fwhm+0.3))}
	// The squares make narrow stars wider, by 1/12 of their side squared. Cholesky's
	// root of the covariance.
	side := float64(2*w.half + 1)
	xx, yy := s.Xx+side*side/12, s.Yy+side*side/12
	w.xx = ridgeUnit * math.Sqrt(xx)
	w.xy = ridgeUnit * s.Xy / math.Sqrt(xx)
	w.yy = ridgeUnit * math.Sqrt(yy-s.Xy*s.Xy/xx)
	w.around = p.Around(ridgeFirst*math.Hypot(w.xx, max(w.xy, w.yy)) + float64(w.half))
	for k := range w.directions {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / ridgeAngles)
		w.directions[k] = [2]float64{cos, sin}
	}
	return w
}

// light is the mean around a place that lies u, v from x, y, above the level.
func (w *walker) light(x, y, u, v float64) float64 {
	cx, cy := int(math.Round(x+w.xx*u)), int(math.Round(y+w.xy*u+w.yy*v))
	left, right := max(cx-w.half, 0), min(cx+w.half, w.p.W-1)
	var sum float32
	n := 0
	for j := max(cy-w.half, 0); j <= min(cy+w.half, w.p.H-1); j++ {
		if left <= right {
			for _, r := range w.p.R[j*w.p.W:][left : right+1] {
				sum += r
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return float64(sum)/float64(n) - w.level
}

// onRidge tells whether the light of a star goes on to two sides, half as high or so
// that the star does not stand out from it. What is on all sides, as of a galaxy, is no
// part of that.
func (w *walker) onRidge(st *stars.Star, l limits, threshold float64) bool {
	w.level = 0
	if !w.goesOn(st, l, threshold) {
		return false
	}
	level, _ := w.ring.Background(w.p, int(math.Round(st.X)), int(math.Round(st.Y)))
	w.level = max(0, level)
	return w.level == 0 || w.goesOn(st, l, threshold)
}

// goesOn is onRidge above one level.
func (w *walker) goesOn(st *stars.Star, l limits, threshold float64) bool {
	top := w.light(st.X, st.Y, 0, 0)
	lit := func(v float64) bool { return v > l.least*top && v < ridgeMost*top }
	var first [ridgeAngles]float64
	for k, d := range w.directions {
		first[k] = w.light(st.X, st.Y, ridgeFirst*d[0], ridgeFirst*d[1])
	}
	a, b, lowest := 0, 0, 0.0
	around, light := 0, 0.0
	for i, v := range first {
		if v > l.mean*top && v < ridgeMost*top {
			around, light = around+1, light+v
		}
		if !lit(v) {
			continue
		}
		for j, o := range first[:i] {
			di, dj := w.directions[i], w.directions[j]
			if lit(o) && di[0]*dj[0]+di[1]*dj[1] < ridgeOpposed && min(v, o) > lowest {
				a, b, lowest = i, j, min(v, o)
			}
		}
	}
	if lowest == 0 {
		return false
	}
	hidden := func(share float64) bool { return st.SNR*(1-share) < threshold }
	if around >= l.directions && hidden(light/float64(around)/top) {
		return true
	}
	sum := 0.0
	for _, k := range [2]int{a, b} {
		v, ok := w.follow(st, first[k], w.directions[k], lit)
		if !ok {
			return false
		}
		sum += v
	}
	share := sum / 2 / top
	return share > l.mean || hidden(share)
}

// follow walks along a ridge from its first step, and gives the mean light of its
// steps; false where one is not lit.
func (w *walker) follow(st *stars.Star, sum float64, d [2]float64, lit func(float64) bool) (mean float64, ok bool) {
	u, v, angle := ridgeFirst*d[0], ridgeFirst*d[1], math.Atan2(d[1], d[0])
	for range ridgeSteps {
		best, to := math.Inf(-1), 0.0
		for _, turn := range [3]float64{0, ridgeTurn, -ridgeTurn} {
			sin, cos := math.Sincos(angle + turn)
			if l := w.light(st.X, st.Y, u+ridgeStep*cos, v+ridgeStep*sin); l > best {
				best, to = l, angle+turn
			}
		}
		if !lit(best) {
			return 0, false
		}
		angle = to
		sin, cos := math.Sincos(angle)
		u, v = u+ridgeStep*cos, v+ridgeStep*sin
		sum += best
	}
	return sum / (ridgeSteps + 1), true
}
