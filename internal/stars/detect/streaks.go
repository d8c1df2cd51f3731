package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// A satellite, aircraft or meteor leaves a line of light. The star finder takes
// it for a chain of stars, closer together and straighter than stars ever
// stand. So lines are sought among the detections (Hough 1962, US patent
// 3069654, with the angle and distance of Duda and Hart 1972, Communications of
// the ACM 15, 11), and each is then held against the picture: only one that
// shines nearly without a gap is a track. Its false stars are taken off the
// list. Curved and very faint tracks are not found.

const (
	maxStreaks    = 40  // of one frame: a train of satellites and more
	chainReach    = 6.0 // FWHM: neighbours of a chain stand no further apart
	chainMany     = 12  // neighbours of more than a chain
	chainMin      = 6   // links that make a line worth a look
	houghAngles   = 720 // a quarter of a degree apart
	houghMost     = 4000
	streakMinFWHM = 15.0 // shortest track in FWHM
	streakMinPx   = 50.0 // and in px
	streakSigma   = 4.0  // of the running mean along the track
	streakRun     = 15   // px of that mean
	widestStreak  = 3.0  // FWHM: a filament of nebula is broader
	streakGap     = 40   // px that a track may fade for
	rowMost       = 30.0 // FWHM: chance puts no longer row of stars close together
	darkest       = 0.5  // of a short track's light at its darkest, but for
	rowSigma      = 2.0  // standard errors
	rowSure       = 2.5  // sigma of a place along it: the darkest place shows then
)

// TakeStreaks finds the tracks among the detections and takes these off the list, and with
// them the lamps in rows along them.
func TakeStreaks(p *plane.Plane, seen Found, s Seeing) ([]stars.Streak, []stars.Star) {
	var found []stars.Streak
	list := slices.Clone(seen.Stars)
	links := slices.Clone(list)
	if s.Bright > 0 {
		// What is broad beside stars of known size may be links of a wide track.
		links = append(links, seen.Broad...)
	}
	for len(found) < maxStreaks {
		chain := chained(links, chainReach*s.Fwhm)
		if len(chain) < chainMin {
			break
		}
		line, ok := bestLine(links, chain, p.W, p.H, max(2, s.Fwhm))
		if !ok {
			break
		}
		t, ok := follow(p, line, s)
		if !ok {
			break
		}
		near := t.Width/2 + s.Fwhm
		onTrack := func(st stars.Star) bool { return t.Distance(st.X, st.Y) < near }
		before := len(links)
		links = slices.DeleteFunc(links, onTrack)
		if again := slices.ContainsFunc(found, func(o stars.Streak) bool { return o.Distance((t.X0+t.X1)/2, (t.Y0+t.Y1)/2) < near }); again {
			// Beyond a long gap the track goes on in detections alone.
			onLine := func(st stars.Star) bool { return math.Abs(st.X*line.cos+st.Y*line.sin-line.rho) < near }
			links = slices.DeleteFunc(links, onLine)
			list = slices.DeleteFunc(list, onLine)
			if len(links) == before {
				break
			}
			continue
		}
		if t.Width <= widestStreak*s.Fwhm {
			found = append(found, t)
			list = slices.DeleteFunc(list, onTrack)
		} else if len(links) == before {
			break
		}
	}
	return found, withoutLamps(list, found, p.W, p.H)
}

// chained are the detections that have two neighbours in nearly opposite
// directions within reach: links of a chain. Where many are around, as in a cluster or
// between the two lights of a plane, it has to be the nearest two.
func chained(list []stars.Star, reach float64) []int {
	near := stars.NewNeighbours(list)
	var links []int
	var around [][2]float64
	for i := range list {
		st := &list[i]
		around = around[:0]
		near.Within(st.X, st.Y, reach, func(j int) {
			if x, y := list[j].X-st.X, list[j].Y-st.Y; x != 0 || y != 0 {
				around = append(around, [2]float64{x, y})
			}
		})
		if len(around) > chainMany {
			around = nearestTwo(around)
		}
		if opposite(around) {
			links = append(links, i)
		}
	}
	return links
}

// nearestTwo are the shortest two of at least as many distances.
func nearestTwo(around [][2]float64) [][2]float64 {
	for k := range 2 {
		for i := k + 1; i < len(around); i++ {
			if math.Hypot(around[i][0], around[i][1]) < math.Hypot(around[k][0], around[k][1]) {
				around[i], around[k] = around[k], around[i]
			}
		}
	}
	return around[:2]
}

// opposite tells whether two of the directions are within 20° of opposite.
func opposite(directions [][2]float64) bool {
	const limit = -0.94 // cos 160°
	for i, a := range directions {
		for _, b := range directions[:i] {
			if a[0]*b[0]+a[1]*b[1] < limit*math.Hypot(a[0], a[1])*math.Hypot(b[0], b[1]) {
				return true
			}
		}
	}
	return false
}

// line is x cos + y sin = rho.
type line struct{ cos, sin, rho float64 }

// bestLine is the line through most of the chained detections, refined by least
// squares; false when no line has more of them than chance gives.
func bestLine(list []stars.Star, chain []int, w, h int, width float64) (line, bool) {
	if len(chain) > houghMost {
		chain = chain[:houghMost]
	}
	// Bins of half a line's width at the rim of the frame would need more
	// angles; the width is what a quarter of a degree spans over a third of the
	// frame, so that a long track fills a bin over a good part of its length.
	diagonal := math.Hypot(float64(w), float64(h))
	bin := max(2*width, diagonal/3*math.Pi/houghAngles)
	bins := int(2*diagonal/bin) + 2
	votes := make([]uint16, bins)
	var best line
	most := uint16(0)
	for a := range houghAngles {
		sin, cos := math.Sincos(float64(a) * math.Pi / houghAngles)
		clear(votes)
		for _, i := range chain {
			b := int((list[i].X*cos + list[i].Y*sin + diagonal) / bin)
			votes[b]++
			if votes[b] > most {
				most = votes[b]
				best = line{cos, sin, (float64(b)+0.5)*bin - diagonal}
			}
		}
	}
	if most < chainMin {
		return line{}, false
	}
	voted := best
	// The last again, until those of a track beside it are out of it at both ends.
	for _, tolerance := range []float64{1.5 * bin, 2 * width, width, width, width} {
		x, y := best.beside(list, chain, tolerance)
		if len(x) < chainMin { // the tracks beside it of a train have drawn it between them
			x, y = voted.beside(list, chain, tolerance)
		}
		if len(x) < chainMin {
			return line{}, false
		}
		best = lineThrough(x, y)
	}
	return best, true
}

// beside are the places of the chained detections within reach of a line.
func (l line) beside(list []stars.Star, chain []int, reach float64) (x, y []float64) {
	for _, i := range chain {
		if st := &list[i]; math.Abs(st.X*l.cos+st.Y*l.sin-l.rho) < reach {
			x, y = append(x, st.X), append(y, st.Y)
		}
	}
	return x, y
}

// lineThrough is the line of least perpendicular distances.
func lineThrough(x, y []float64) line {
	mx, my := stats.Mean(x), stats.Mean(y)
	var xx, xy, yy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	along := math.Atan2(2*xy, xx-yy) / 2
	sin, cos := math.Sincos(along + math.Pi/2)
	return line{cos, sin, mx*cos + my*sin}
}

// along calls f for the places of a line within a picture, a px apart.
func (l line) along(p *plane.Plane, f func(x, y float64)) {
	far := int(math.Hypot(float64(p.W), float64(p.H)))
	for t := -far; t <= far; t++ {
		x, y := l.cos*l.rho-float64(t)*l.sin, l.sin*l.rho+float64(t)*l.cos
		if x >= 1 && y >= 1 && x < float64(p.W-1) && y < float64(p.H-1) {
			f(x, y)
		}
	}
}

// follow walks along a line through the picture and finds where it shines.
func follow(p *plane.Plane, l line, s Seeing) (stars.Streak, bool) {
	// The light over the background beside it, in sigma of the mean of three
	// pixels less that of twice three.
	var signal []float64
	var places []stars.Place
	side := besideTracks(p, l, max(8, 4*s.Fwhm))
	l.along(p, func(x, y float64) {
		noise := p.Mesh.NoiseAt(x, y) * math.Sqrt(1./3+1./6)
		signal = append(signal, (across(p, x, y, l, 0)-bothSides(p, x, y, l, side))/noise)
		places = append(places, stars.Place{X: x, Y: y})
	})
	from, to := shiningRun(signal)
	if to > from { // the running mean hides half its length at either end of the frame
		from, to = trimmed(signal, max(0, from-streakRun/2), min(len(signal), to+streakRun/2))
	}
	length := float64(to - from)
	if length < max(streakMinPx, streakMinFWHM*s.Fwhm) || !even(signal[from:to], s.Fwhm) {
		return stars.Streak{}, false
	}
	begin, end := places[from], places[to-1]
	st := stars.Streak{X0: begin.X, Y0: begin.Y, X1: end.X, Y1: end.Y}
	st.Width = streakWidth(p, st, l, s)
	return st, true
}

// asides are how far aside of a line its level may be taken, of the farthest: where that is
// on another track of a train, a nearer one is between the two.
var asides = []float64{1, 0.8, 0.6}

// asideGain is how much darker a nearer one has to be, in sigma of a place: half of what a track
// has to shine.
const asideGain = 0.5

// besideTracks is how far beside a line it is darkest along its length.
func besideTracks(p *plane.Plane, l line, farthest float64) (px float64) {
	least := math.Inf(1)
	for _, share := range asides {
		var light []float64
		l.along(p, func(x, y float64) { light = append(light, bothSides(p, x, y, l, share*farthest)) })
		noise := stats.MADSigma(light)
		if level := stats.MedianInPlace(light); level < least-asideGain*noise {
			least, px = level, share*farthest
		}
	}
	return px
}

// bothSides is the mean of what is across a line to either side of it.
func bothSides(p *plane.Plane, x, y float64, l line, beside float64) float64 {
	return (across(p, x, y, l, beside) + across(p, x, y, l, -beside)) / 2
}

// across is the mean of three pixels across a line at a distance beside it.
func across(p *plane.Plane, x, y float64, l line, beside float64) float64 {
	var sum float64
	for k := -1.0; k <= 1; k++ {
		i := int(math.Round(x + (beside+k)*l.cos))
		j := int(math.Round(y + (beside+k)*l.sin))
		if i >= 0 && j >= 0 && i < p.W && j < p.H {
			sum += float64(p.R[j*p.W+i])
		}
	}
	return sum / 3
}

// shiningRun is the longest stretch whose running mean stays significant, gaps
// of up to streakGap bridged, that shines over four fifths of its length.
func shiningRun(signal []float64) (from, to int) {
	// Bright stars under the line must not carry the mean over a gap, nor those beside
	// it, or a plane's lamps, bring it down.
	capped := make([]float64, len(signal))
	for i, v := range signal {
		capped[i] = min(max(v, -2), 10)
	}
	threshold := streakSigma / math.Sqrt(streakRun)
	begin, lastLit, lit := -1, 0, 0
	end := func() {
		if begin >= 0 && lastLit-begin > to-from && 5*lit > 4*(lastLit-begin) {
			from, to = begin, lastLit
		}
		begin, lit = -1, 0
	}
	var sum float64
	for i, v := range capped {
		sum += v
		if i >= streakRun {
			sum -= capped[i-streakRun]
		}
		if i < streakRun-1 {
			continue
		}
		if middle := i - streakRun/2; sum/streakRun > threshold {
			if begin < 0 {
				begin = middle
			}
			lastLit = middle
			lit++
		} else if begin >= 0 && middle-lastLit > streakGap {
			end()
		}
	}
	end()
	return from, to
}

// trimmed takes off the ends what the track does not light: it ends where
// five pixels together fall below half its brightness.
func trimmed(signal []float64, from, to int) (int, int) {
	if to-from < 5 {
		return from, to
	}
	half := stats.Median(signal[from:to]) / 2
	dark := func(i int) bool { return stats.Mean(signal[i:i+5]) < half }
	for to-from > 5 && dark(from) {
		from++
	}
	for to-from > 5 && dark(to-5) {
		to--
	}
	return from, to
}

// even tells a track from stars in a row: it shines about alike over its length,
// where bright stars are all peaks. Chance puts faint stars and wisps of nebula into
// short rows: these are dark between, and where a short track is too faint to tell, it
// is none.
func even(signal []float64, fwhm float64) bool {
	median := stats.Median(signal)
	if !(median > 1 && median > 0.25*stats.Quantile(signal, 0.9)) {
		return false
	}
	if float64(len(signal)) > rowMost*fwhm {
		return true
	}
	n := max(3, int(math.Round(fwhm)))
	dark := darkest*median - rowSigma/math.Sqrt(float64(n))
	for i := n; i+2*n <= len(signal); i++ { // the ends fade
		if stats.Mean(signal[i:i+n]) < dark {
			return false
		}
	}
	return median > rowSure
}

// streakWidth is the full width at half maximum across a track, px, from the
// median over its length at each distance from the line.
func streakWidth(p *plane.Plane, t stars.Streak, l line, s Seeing) float64 {
	length := math.Hypot(t.X1-t.X0, t.Y1-t.Y0)
	reach := int(max(6, 3*s.Fwhm))
	profile := make([]float64, 2*reach+1)
	step := max(1, length/500)
	var v []float64
	for d := -reach; d <= reach; d++ {
		v = v[:0]
		for along := 0.0; along <= length; along += step {
			x := t.X0 + (t.X1-t.X0)*along/length + float64(d)*l.cos
			y := t.Y0 + (t.Y1-t.Y0)*along/length + float64(d)*l.sin
			i, j := int(math.Round(x)), int(math.Round(y))
			if i >= 0 && j >= 0 && i < p.W && j < p.H {
				v = append(v, float64(p.R[j*p.W+i]))
			}
		}
		profile[d+reach] = stats.MedianInPlace(v)
	}
	// It ends where it is darkest: beyond may be another track.
	ends := func(d int) float64 { return (profile[reach-d] + profile[reach+d]) / 2 }
	edge := reach
	for d := reach - 1; d > reach/2; d-- {
		if ends(d) < ends(edge) {
			edge = d
		}
	}
	floor := ends(edge)
	top := slices.Max(profile[reach-1:reach+2]) - floor
	wide := 0.0
	for _, q := range profile[reach-edge : reach+edge+1] {
		// A pixel counts by how far it is above half, so that the width is
		// not a whole number of pixels.
		wide += min(1, max(0, (q-floor)/top*2-0.5))
	}
	return wide
}
