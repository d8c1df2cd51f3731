package plate

import (
	"math"

	"fitsqa/internal/stats"
)

// believed is log10 of the odds below which a map is no chance.
const believed = -7

// try tests the map that four pairs of stars propose.
func (p *search) try(near *sky, places [4]point, at [4]vector) *Solution {
	s := p.field.proposed(places, at)
	if s == nil {
		return nil
	}
	if odds := p.field.chance(s, near, 4); odds+math.Log10(float64(p.tried)) > -3 {
		return nil
	}
	got, ok := p.field.refine(s, p.field.catalogueOf(s), p.tried)
	if !ok {
		return nil
	}
	return got
}

// proposed is the similarity that four pairs fix, about the frame's middle; nil when
// they fit none.
func (f *field) proposed(places [4]point, at [4]vector) *Solution {
	middle := vector{at[0][0] + at[1][0] + at[2][0] + at[3][0], at[0][1] + at[1][1] + at[2][1] + at[3][1], at[0][2] + at[1][2] + at[2][2] + at[3][2]}.unit()
	centre := point{float64(f.width-1) / 2, float64(f.height-1) / 2}
	s := &Solution{width: f.width, height: f.height}
	// The first round finds the frame's middle, the second touches the sky there.
	for range 2 {
		var planes [4]point
		for i, v := range at {
			var ok bool
			if planes[i], ok = project(v, middle); !ok {
				return nil
			}
		}
		m, shift, ok := similar(places[:], planes[:], centre)
		if !ok {
			return nil
		}
		s.setMap(m, shift, middle)
		middle = direction(s.RA, s.Dec)
	}
	return s
}

// setMap takes over a map from pixels off the frame's middle to the plane that touches
// the sky at a direction: shift is where the frame's middle falls in that plane.
func (s *Solution) setMap(m [4]float64, shift point, touching vector) {
	middle := lift(shift, touching)
	s.RA, s.Dec = middle.angles()
	s.m = m
	// East and north are others there: near a pole, quite others.
	h := float64(s.width+s.height) / 16
	for k, d := range [2]point{{h, 0}, {0, h}} {
		step := point{m[0]*d.x + m[1]*d.y, m[2]*d.x + m[3]*d.y}
		there, _ := project(lift(point{shift.x + step.x, shift.y + step.y}, touching), middle)
		back, _ := project(lift(point{shift.x - step.x, shift.y - step.y}, touching), middle)
		s.m[k], s.m[2+k] = (there.x-back.x)/(2*h), (there.y-back.y)/(2*h)
	}
}

// similar is the shift, turn and scale, mirrored or not, that best brings places (px,
// off a centre) onto a plane.
func similar(places, planes []point, centre point) (m [4]float64, shift point, ok bool) {
	a, b := mean(places), mean(planes)
	var norm, c, s, cm, sm float64
	for i := range places {
		x, y, u, v := places[i].x-a.x, places[i].y-a.y, planes[i].x-b.x, planes[i].y-b.y
		norm += x*x + y*y
		c += x*u + y*v
		s += x*v - y*u
		cm += x*u - y*v
		sm += x*v + y*u
	}
	if !(norm > 0) {
		return m, shift, false
	}
	if c*c+s*s >= cm*cm+sm*sm {
		m = [4]float64{c / norm, -s / norm, s / norm, c / norm}
	} else {
		m = [4]float64{cm / norm, sm / norm, sm / norm, -cm / norm}
	}
	dx, dy := centre.x-a.x, centre.y-a.y
	return m, point{b.x + m[0]*dx + m[1]*dy, b.y + m[2]*dx + m[3]*dy}, m[0]*m[3]-m[1]*m[2] != 0
}

// affine is the best affine map about the middle of four or more places; shift is where
// the mean of their extremes falls.
func affine(places, planes []point) (m [4]float64, shift point, ok bool) {
	lo, hi := places[0], places[0]
	for _, p := range places {
		lo, hi = point{min(lo.x, p.x), min(lo.y, p.y)}, point{max(hi.x, p.x), max(hi.y, p.y)}
	}
	return affineAbout(places, planes, point{(lo.x + hi.x) / 2, (lo.y + hi.y) / 2})
}

func affineAbout(places, planes []point, centre point) (m [4]float64, shift point, ok bool) {
	a, b := mean(places), mean(planes)
	var xx, xy, yy, ux, uy, vx, vy float64
	for i := range places {
		x, y, u, v := places[i].x-a.x, places[i].y-a.y, planes[i].x-b.x, planes[i].y-b.y
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
		ux, uy, vx, vy = ux+u*x, uy+u*y, vx+v*x, vy+v*y
	}
	det := xx*yy - xy*xy
	if !(det > 1e-6*xx*yy) {
		return m, shift, false
	}
	m = [4]float64{(ux*yy - uy*xy) / det, (uy*xx - ux*xy) / det, (vx*yy - vy*xy) / det, (vy*xx - vx*xy) / det}
	dx, dy := centre.x-a.x, centre.y-a.y
	return m, point{b.x + m[0]*dx + m[1]*dy, b.y + m[2]*dx + m[3]*dy}, m[0]*m[3]-m[1]*m[2] != 0
}

func mean(list []point) (m point) {
	for _, p := range list {
		m.x += p.x / float64(len(list))
		m.y += p.y / float64(len(list))
	}
	return m
}

// chance is log10 of the probability that as many catalogue stars fall on stars of the
// frame by themselves. The brightest tell: of the catalogue's as many as the depth of
// the search, of the frame's four times as many. proposers are the pairs that the map
// was made from.
func (f *field) chance(s *Solution, near *sky, proposers int) float64 {
	_, places := f.shown(s, near, 40)
	n := 4 * len(places)
	hits, lambda := 0, 0.0
	for _, p := range places {
		// A map of four stars is good to a pixel or so among them, and less far away.
		reach := 3 + 0.004*f.diagonal()
		lambda += f.density(n) * math.Pi * reach * reach
		if f.nearest(p.x, p.y, reach, n) >= 0 {
			hits++
		}
	}
	return logPoissonTail(hits-proposers, lambda)
}

// refine fits a proposed map to all pairs, from a reach of 6 px down to 3 sigma, and says
// whether what comes of it is no chance after so many maps tried.
func (f *field) refine(guess *Solution, near *sky, tried int) (*Solution, bool) {
	s, reach := *guess, 6.0
	start := scaleOf(guess)
	for step := range 8 {
		wide := reach
		if step == 0 {
			wide = max(reach, 3+0.004*f.diagonal())
		}
		pairs, places, at := f.pair(&s, near, wide)
		if len(pairs) < enough || !s.fit(places, at) {
			return nil, false
		}
		if math.Abs(math.Log(scaleOf(&s)/start)) > 0.05 || s.skewed() {
			return nil, false
		}
		s.Pairs = pairs
		rms := s.scatter(places, at)
		s.RMS = rms * scaleOf(&s)
		reach = max(min(reach, 3*rms), 1.5)
	}
	if s.RMS > 3*scaleOf(&s) {
		return nil, false
	}
	s.weigh(f, near, reach, tried)
	s.describe()
	return &s, s.LogOdds <= believed
}

// skewed tells a map that no telescope makes.
func (s *Solution) skewed() bool {
	a, b := math.Hypot(s.m[0], s.m[2]), math.Hypot(s.m[1], s.m[3])
	across := (s.m[0]*s.m[1] + s.m[2]*s.m[3]) / (a * b)
	return math.Abs(a/b-1) > 0.02 || math.Abs(across) > 0.02 || math.Abs(s.cubic) > 0.1
}

// pair lists catalogue stars that fall on stars of the frame, each used once, brightest
// first. Only as many of the frame's stars count as make chance pairs rare.
func (f *field) pair(s *Solution, near *sky, reach float64) (pairs []Pair, places []point, at []vector) {
	index, shown := f.shown(s, near, len(near.at))
	s.InField = len(index)
	n := f.counted(len(index))
	used := map[int]bool{}
	for i, k := range index {
		j := f.nearest(shown[i].x, shown[i].y, reach, n)
		if j < 0 || used[j] {
			continue
		}
		used[j] = true
		pairs = append(pairs, Pair{f.star[j], near.cat[k]})
		places, at = append(places, f.places[j]), append(at, near.at[k])
	}
	return pairs, places, at
}

// counted is how many of the frame's stars may be one of n of the catalogue: through
// another filter than V the order differs, but not without end.
func (f *field) counted(n int) int { return min(len(f.places), 5*n+20) }

// fit sets the map to pairs of places and their plane, affine and, where there are
// enough, radial.
func (s *Solution) fit(places []point, at []vector) bool {
	touching := direction(s.RA, s.Dec)
	planes := projected(at, touching)
	centre := point{float64(s.width-1) / 2, float64(s.height-1) / 2}
	if len(places) >= 24 {
		s.fitCubic(places, planes, centre)
	}
	straight := make([]point, len(places))
	for i, p := range places {
		k := 1 + s.cubic*s.radius2(p.x-centre.x, p.y-centre.y)
		straight[i] = point{centre.x + k*(p.x-centre.x), centre.y + k*(p.y-centre.y)}
	}
	m, shift, ok := affineAbout(straight, planes, centre)
	if len(places) < 12 { // too few to tell a stretch from errors of place
		m, shift, ok = similar(straight, planes, centre)
	}
	if !ok {
		return false
	}
	s.setMap(m, shift, touching)
	return true
}

// projected are directions in the plane that touches the sky at middle.
func projected(at []vector, middle vector) []point {
	planes := make([]point, len(at))
	for i, v := range at {
		planes[i], _ = project(v, middle) // all are shown in the frame, so before the plane
	}
	return planes
}

// fitCubic measures the radial term by what the map leaves along the radius; one that
// is not three times its error is none.
func (s *Solution) fitCubic(places, planes []point, centre point) {
	var lr, ll, n float64
	var left []float64
	for i, p := range places {
		dx, dy := p.x-centre.x, p.y-centre.y
		r2 := s.radius2(dx, dy) - 0.3 // nearly free of the scale, which the affine part has
		l := point{(s.m[0]*dx + s.m[1]*dy) * r2, (s.m[2]*dx + s.m[3]*dy) * r2}
		q := s.plane(p.x, p.y)
		u, v := planes[i].x-q.x, planes[i].y-q.y
		lr += l.x*u + l.y*v
		ll += l.x*l.x + l.y*l.y
		left = append(left, math.Hypot(u, v))
		n++
	}
	if !(ll > 0) {
		return
	}
	more := lr / ll
	sigma := stats.Median(left) / 1.17741 / math.Sqrt(ll)
	if s.cubic != 0 || math.Abs(more) > 3*sigma {
		s.cubic += more
	}
	if math.Abs(s.cubic) < 2*sigma {
		s.cubic = 0
	}
}

// scatter is the robust scatter of pairs about the map per coordinate, px.
func (s *Solution) scatter(places []point, at []vector) float64 {
	planes := projected(at, direction(s.RA, s.Dec))
	d := make([]float64, len(places))
	for i, p := range places {
		q := s.plane(p.x, p.y)
		d[i] = math.Hypot(planes[i].x-q.x, planes[i].y-q.y) * 3600 / scaleOf(s)
	}
	// The median distance of a round Gaussian is 1.17741 sigma.
	return stats.Median(d) / 1.17741
}

// weigh gives the odds of the finished map: by the deepest of several steps of
// brightness, since a frame may show only the brightest.
func (s *Solution) weigh(f *field, near *sky, reach float64, tried int) {
	index, at := f.shown(s, near, len(near.at))
	n := f.counted(len(index))
	hits, best := 0, 0.0
	for i := range index {
		if f.nearest(at[i].x, at[i].y, reach, n) >= 0 {
			hits++
		}
		if i+1 >= enough {
			lambda := float64(i+1) * f.density(n) * math.Pi * reach * reach
			best = math.Min(best, logPoissonTail(hits-4, lambda))
		}
	}
	s.Stars = len(s.Pairs)
	s.LogOdds = best + math.Log10(float64(max(1, tried)))
}
