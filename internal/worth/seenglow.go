package worth

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// A glow brightens the same pixels of every sub, the sky those that lie under the same
// place of the sky. Where dither or drift moves a sub by a few pixels, each cell of it
// changes by that times the slope of the sky there; a glow's slope changes nothing. By
// how much the cells change less than the slope of what they show would make them is
// the slope of the glow, however uneven the sky is.

// SeenGlow is what subs tell of a glow, e- of one sub.
type SeenGlow struct {
	Height stats.Value // of its highest cell
	AtMost float64     // no glow is higher
	Place  fact.Code   // as in sensor.Dark; of the glow, or of what may be one
	Area   float64     // px, down to half its height
}

// cellMap holds the levels of cells of one sub by columns, rows of a block and blocks.
type cellMap struct {
	levels []float64
	place  Place
	tied   bool // the place is known
}

// zone is where in the frame a glow is looked for.
type zone struct {
	at     fact.Code
	corner bool
	off    func(u, v float64) (x, y float64) // from its corner or edge, shares of the frame's sides
}

// zones are the corners and the edges; v runs up.
func zones() []zone {
	var all []zone
	for k, at := range []fact.Code{sensor.LowerLeft, sensor.LowerRight, sensor.UpperLeft, sensor.UpperRight} {
		all = append(all, zone{at, true, func(u, v float64) (x, y float64) {
			return math.Abs(u - float64(k%2)), math.Abs(v - float64(k/2))
		}})
	}
	for k, at := range []fact.Code{sensor.Left, sensor.Right} {
		all = append(all, zone{at, false, func(u, _ float64) (x, y float64) { return math.Abs(u - float64(k)), 0 }})
	}
	for k, at := range []fact.Code{sensor.Lower, sensor.Upper} {
		all = append(all, zone{at, false, func(_, v float64) (x, y float64) { return 0, math.Abs(v - float64(k)) }})
	}
	return all
}

// A zone is innerZone of the frame's sides deep; the sky beside it is compared with up to
// outerZone. glowScales are how broad glows are tried, shares of the frame's width (of
// their Gaussian's sigma).
const (
	innerZone = 0.125
	outerZone = 0.35
)

var glowScales = []float64{0.03, 0.05, 0.07, 0.1, 0.14}

// fewestCells is how many cells a glow's sigma must span, so that it is no chance of one.
const fewestCells = 1.2

// shapeShare is how much of a glow's height its true shape may change (own estimate, by the
// heights that neighbouring scales give).
const shapeShare = 0.1

// Limits: how many sigma of chance a glow stands out, tried in eight places and five sizes;
// how many subs at least that can be tied to each other tell of it; from how many sigma on a
// patch is brighter than the sky beside it (noise alone reaches 3.2 among a thousand cells,
// and not in neighbours).
const (
	glowSure   = 5
	fewestTied = 10
	patchSigma = 6
)

// glow looks for one in all zones.
func (s *Seen) glow() SeenGlow {
	found := SeenGlow{Height: stats.Missing(NoEdgeBrighter)}
	var doubtful SeenGlow
	m := s.motion()
	var corners [][]trial
	for _, z := range zones() {
		bright, noise := s.brighter(z)
		found.AtMost = max(found.AtMost, patchSigma*noise)
		g, trials := s.still(z, m)
		if z.corner {
			corners = append(corners, trials)
		}
		switch {
		case g.Height.OK() && !(g.Height.V < found.Height.V): // NaN too
			found = g
		case !g.Height.OK() && bright > patchSigma*noise:
			if limit := min(bright+3*noise, g.AtMost); !(limit <= doubtful.AtMost) {
				doubtful = SeenGlow{stats.Missing(SkyOrSensor), limit, z.at, g.Area}
			}
		}
	}
	if flatsCorners(corners) {
		found.Height = stats.Missing(CornersBright)
	}
	if !found.Height.OK() && doubtful.AtMost > found.AtMost {
		return doubtful
	}
	return found
}

// flatsCorners tells that corners are bright as a flat leaves them that does not fit, or
// that divides a dark current left in the subs: three or four, none sure to be far below the
// brightest at the size that this has. What changes while the sky drifts raises some of them
// and lowers others, so that one alone may be sure.
func flatsCorners(corners [][]trial) bool {
	var top trial
	for _, c := range corners {
		if i := likeliest(c); i >= 0 && c[i].height > top.height {
			top = c[i]
		}
	}
	alike := 0
	for _, c := range corners {
		for _, f := range c {
			if top.height > 0 && f.scale == top.scale && f.height+2*f.err() > top.height/3 {
				alike++
			}
		}
	}
	return alike >= 3
}

// brighter is by how much the brightest cell of a zone stands above the plane of the sky
// beside it, 0 when it is none with neighbours, and the noise of a cell.
func (s *Seen) brighter(z zone) (height, noise float64) {
	var inside []int
	for c := range s.maps[0].levels {
		if x, y := z.off(s.share(c)); max(x, y) < innerZone {
			inside = append(inside, c)
		}
	}
	above := s.aboveSky(func(u, v float64) bool {
		x, y := z.off(u, v)
		return max(x, y) >= innerZone && max(x, y) < outerZone
	})
	if above == nil || len(inside) < 3 {
		return 0, 0
	}
	mean := meanOf(above)
	noise = noiseOfMean(above, mean, inside)
	if top := s.brightest(mean, inside, noise); top >= 0 {
		height = mean[top]
	}
	return height, noise
}

// meanOf maps.
func meanOf(maps [][]float64) []float64 {
	mean := make([]float64, len(maps[0]))
	for _, m := range maps {
		for c, v := range m {
			mean[c] += v / float64(len(maps))
		}
	}
	return mean
}

// share of the frame's sides at which a cell lies.
func (s *Seen) share(c int) (u, v float64) {
	x, y := s.centre(c)
	return x / float64(s.frameWidth), y / float64(s.frameHeight)
}

// fewestSky is how many cells it takes to tell the sky beside a zone.
const fewestSky = 8

// aboveSky are the levels of every sub above the plane through some cells, of which
// those far off it are left out; nil when they are too few.
func (s *Seen) aboveSky(sky func(u, v float64) bool) [][]float64 {
	var cells []int
	for c := range s.maps[0].levels {
		if sky(s.share(c)) {
			cells = append(cells, c)
		}
	}
	if len(cells) < fewestSky {
		return nil
	}
	var all [][]float64
	for _, m := range s.maps {
		var p stats.Plane
		limit := math.Inf(1)
		for range 4 {
			var sums stats.PlaneSums
			for _, c := range cells {
				if u, v := s.share(c); math.Abs(m.levels[c]-p.At(u, v)) <= limit {
					sums.Add(u, v, m.levels[c])
				}
			}
			p = sums.Solve()
			var off []float64
			for _, c := range cells {
				u, v := s.share(c)
				off = append(off, m.levels[c]-p.At(u, v))
			}
			limit = 3 * stats.MADSigma(off)
		}
		rest := make([]float64, len(m.levels))
		for c, v := range m.levels {
			rest[c] = v - p.At(s.share(c))
		}
		all = append(all, rest)
	}
	return all
}

// noiseOfMean is that of a cell of the mean map, by how cells scatter from sub to sub.
func noiseOfMean(above [][]float64, mean []float64, cells []int) float64 {
	var all []float64
	for _, c := range cells {
		v := 0.0
		for _, rest := range above {
			v += (rest[c] - mean[c]) * (rest[c] - mean[c])
		}
		all = append(all, v)
	}
	n := float64(len(above))
	return math.Sqrt(stats.Median(all) / (n - 1) / n)
}

// brightest is the highest of the cells that is no chance; -1 when there is none.
func (s *Seen) brightest(mean []float64, cells []int, noise float64) int {
	best := -1
	for _, c := range cells {
		v := mean[c]
		if v < patchSigma*noise || best >= 0 && v <= mean[best] {
			continue
		}
		beside := 0
		for _, k := range s.neighbours(c) {
			if mean[k] > v/4 && mean[k] > patchSigma/2*noise {
				beside++
			}
		}
		if beside >= 2 {
			best = c
		}
	}
	return best
}

// trial is a glow of one size in a zone, e-: its height at the highest cell, how far that
// may be off by chance and by the slope of the sky, and how much of what the cells do it
// explains, in their variances.
type trial struct {
	scale, height, chance, wrong, explained float64
}

// err of a trial's height.
func (f trial) err() float64 { return math.Hypot(f.chance, f.wrong) }

// sure tells that a trial is no chance.
func (f trial) sure() bool { return f.height > glowSure*f.chance && f.height > 3*f.err() }

// likeliest of the sure trials is the one that explains most; -1 when none is sure.
func likeliest(trials []trial) int {
	best := -1
	for i, f := range trials {
		if f.sure() && (best < 0 || f.explained > trials[best].explained) {
			best = i
		}
	}
	return best
}

// still is the glow of a zone by what does not move with the sky; missing, with a limit,
// where none is sure.
func (s *Seen) still(z zone, m motion) (SeenGlow, []trial) {
	best := SeenGlow{Height: stats.Missing(NoneSure), AtMost: math.Inf(1), Place: z.at}
	var cells []int
	for c := range s.maps[0].levels {
		if x, y := z.off(s.share(c)); max(x, y) < outerZone {
			cells = append(cells, c)
		}
	}
	if len(m.less) < fewestTied || len(cells) < 2*fewestSky {
		return best, nil
	}
	limit := 0.0
	var trials []trial
	for _, scale := range glowScales {
		if scale*float64(s.frameWidth) < fewestCells*float64(s.frameWidth)/float64(s.cols) {
			continue
		}
		f := m.height(s, s.shape(z, scale), cells)
		f.scale = scale
		limit = max(limit, f.height+3*f.err())
		trials = append(trials, f)
	}
	if i := likeliest(trials); i >= 0 {
		f := trials[i]
		best.Height = stats.Known(f.height, math.Hypot(f.err(), shapeShare*f.height), len(m.less))
		best.AtMost = f.height + 3*best.Height.Err
		best.Area = s.halfArea(s.shape(z, f.scale))
	} else if !math.IsNaN(limit) {
		best.AtMost = limit
		best.Area = s.halfArea(s.shape(z, glowScales[0]))
	}
	return best, trials
}

// shape of a glow in a zone, of height 1 at its highest cell.
func (s *Seen) shape(z zone, scale float64) []float64 {
	shape := make([]float64, len(s.maps[0].levels))
	top := 0.0
	for c := range shape {
		x, y := z.off(s.share(c))
		y *= float64(s.frameHeight) / float64(s.frameWidth)
		shape[c] = math.Exp(-(x*x + y*y) / (2 * scale * scale))
		top = max(top, shape[c])
	}
	for c := range shape {
		shape[c] /= max(top, 1e-300)
	}
	return shape
}

// halfArea is how much of the frame a shape covers down to half its height, px.
func (s *Seen) halfArea(shape []float64) float64 {
	n := 0.0
	for _, v := range shape {
		if v >= 0.5 {
			n++
		}
	}
	return n / float64(len(shape)) * float64(s.frameWidth*s.frameHeight)
}

// motion is how cells change from sub to sub.
type motion struct {
	moves [][][2]float64 // of each sub at each cell, px of the sensor
	sky   [][]float64    // what the slope of the mean map makes of each cell of each sub
	less  [][]float64    // by how much each cell of each sub changed less than the slope of the mean would make it
	// What changes from sub to sub over the whole frame, taken off less: the sky's level and
	// slopes, and its transparency; by cells of so much weight.
	whole  [][]float64
	weight []float64
}

// motion compares every sub that is tied with the mean of all.
func (s *Seen) motion() motion {
	var tied []cellMap
	var levels [][]float64
	for _, t := range s.maps {
		if t.tied && t.place.A > 0.7 { // turned fields apart: their slopes are others
			tied, levels = append(tied, t), append(levels, t.levels)
		}
	}
	var m motion
	if len(tied) < fewestTied {
		return m
	}
	mean := meanOf(levels)
	m.moves, m.sky, m.less = make([][][2]float64, len(tied)), make([][]float64, len(tied)), make([][]float64, len(tied))
	for c := range mean {
		gx, gy := s.slope(mean, c)
		cx, cy := s.centre(c)
		var x, y []float64
		for _, t := range tied {
			p := t.place
			x, y = append(x, p.A*cx+p.B*cy+p.C), append(y, p.D*cx+p.E*cy+p.F)
		}
		mx, my := stats.Mean(x), stats.Mean(y)
		for k, t := range tied {
			m.moves[k] = append(m.moves[k], [2]float64{x[k] - mx, y[k] - my})
			sky := gx*(x[k]-mx) + gy*(y[k]-my)
			m.sky[k] = append(m.sky[k], sky)
			m.less[k] = append(m.less[k], sky-(t.levels[c]-mean[c]))
		}
	}
	m.weight = weigh(m.less)
	open := make([][]float64, 4)
	for c, w := range m.weight {
		u, v := s.share(c)
		for i, x := range []float64{1, u, v, mean[c]} {
			open[i] = append(open[i], x*w)
		}
	}
	m.whole = orthonormal(open)
	for k := range m.less {
		m.steady(m.less[k])
		m.steady(m.sky[k])
	}
	return m
}

// steady takes off what changes over the whole frame.
func (m *motion) steady(cells []float64) {
	floats.Mul(cells, m.weight)
	free(cells, m.whole)
	floats.Div(cells, m.weight)
}

// weigh cells by how little they scatter: under a nebula the slope does not say all. One
// that happens to scatter little tells no more than others.
func weigh(rest [][]float64) []float64 {
	weight := make([]float64, len(rest[0]))
	for c := range weight {
		square := 1e-12
		for _, r := range rest {
			square += r[c] * r[c] / float64(len(rest))
		}
		weight[c] = 1 / math.Sqrt(square)
	}
	most := 2 * stats.Median(weight)
	for c, w := range weight {
		weight[c] = min(w, most)
	}
	return weight
}

// free takes off what a basis spans.
func free(v []float64, basis [][]float64) {
	for _, b := range basis {
		floats.AddScaled(v, -floats.Dot(v, b), b)
	}
}

// slopeShare is how far the slope of the mean map, over cells and dithers, may be off the
// slope of the sky (own estimate: the map's bend over two cells).
const slopeShare = 0.05

// height of a glow of a shape by some cells. Its error by chance is the largest of three: by
// leaving out sub by sub, and cell by cell (what the sensor's pattern makes of a cell is in
// all subs alike), and by the cells' scatter. By what is wrong with the sky's slope it may
// be off beside.
func (m motion) height(s *Seen, shape []float64, cells []int) (f trial) {
	var slope, less, sky [][]float64
	all := make([]float64, len(shape))
	for k := range m.less {
		for c := range shape {
			gx, gy := s.slope(shape, c)
			all[c] = gx*m.moves[k][c][0] + gy*m.moves[k][c][1]
		}
		m.steady(all)
		slope, less, sky = append(slope, of(all, cells)), append(less, of(m.less[k], cells)), append(sky, of(m.sky[k], cells))
	}
	weight := make([]float64, len(cells))
	floats.AddConst(1, weight)
	for range 4 { // what is left in the cells gives them their weights
		var rest [][]float64
		f, rest = fitted(slope, less, weight)
		ofSky, _ := fitted(slope, sky, weight)
		f.wrong = slopeShare * math.Abs(ofSky.height)
		weight = weigh(rest)
	}
	return f
}

// of some cells.
func of(all []float64, cells []int) []float64 {
	some := make([]float64, len(cells))
	for i, c := range cells {
		some[i] = all[c]
	}
	return some
}

// fitted is by how much y follows x over all subs, each of its own level, with its error,
// and what is left of y.
func fitted(x, y [][]float64, weight []float64) (f trial, rest [][]float64) {
	n := len(weight)
	level := orthonormal([][]float64{slices.Clone(weight)})
	var above, below []float64
	ofCell, ofCells := make([]float64, n), make([]float64, n)
	for k := range y {
		a, b := weighted(x[k], weight, level), weighted(y[k], weight, level)
		above, below = append(above, floats.Dot(a, b)), append(below, floats.Dot(a, a))
		for i := range a {
			ofCell[i], ofCells[i] = ofCell[i]+a[i]*b[i], ofCells[i]+a[i]*a[i]
		}
	}
	ratio, bySub := jackknife(above, below)
	_, byCell := jackknife(ofCell, ofCells)
	square := 0.0
	for k := range y {
		b := weighted(y[k], weight, level)
		floats.AddScaled(b, -ratio, weighted(x[k], weight, level))
		square += floats.Dot(b, b)
		rest = append(rest, floats.DivTo(b, b, weight))
	}
	byScatter := math.Sqrt(square / float64(len(y)*n) / floats.Sum(below))
	return trial{height: ratio, chance: max(bySub, byCell, byScatter), explained: ratio * ratio / (byScatter * byScatter)}, rest
}

// weighted values less what a basis spans.
func weighted(v, weight []float64, basis [][]float64) []float64 {
	w := floats.MulTo(make([]float64, len(v)), v, weight)
	free(w, basis)
	return w
}

// orthonormal vectors that span what the given ones do.
func orthonormal(all [][]float64) (basis [][]float64) {
	for _, v := range all {
		size := floats.Norm(v, 2)
		for _, b := range basis {
			floats.AddScaled(v, -floats.Dot(v, b), b)
		}
		if rest := floats.Norm(v, 2); rest > 1e-6*size {
			floats.Scale(1/rest, v)
			basis = append(basis, v)
		}
	}
	return basis
}

// jackknife is the ratio of two sums with its error from leaving out part by part.
func jackknife(above, below []float64) (ratio, err float64) {
	var a, b float64
	for k := range above {
		a, b = a+above[k], b+below[k]
	}
	ratio = a / b
	for k := range above {
		d := (a-above[k])/(b-below[k]) - ratio
		err += d * d
	}
	n := float64(len(above))
	return ratio, math.Sqrt(err * (n - 1) / n)
}

// slope of the map at a cell, a pixel.
func (s *Seen) slope(mean []float64, c int) (x, y float64) {
	i, j := c%s.cols, c/s.cols%s.rows
	along := func(k, n, step int, size float64) float64 {
		lo, hi := c, c
		if k > 0 {
			lo = c - step
		}
		if k < n-1 {
			hi = c + step
		}
		return (mean[hi] - mean[lo]) / (size * max(1, float64((hi-lo)/step)))
	}
	return along(i, s.cols, 1, float64(s.frameWidth)/float64(s.cols)), along(j, s.rows, s.cols, float64(s.block)/float64(s.rows))
}

// neighbours of a cell within its block.
func (s *Seen) neighbours(c int) []int {
	var near []int
	i, j := c%s.cols, c/s.cols%s.rows
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if (di != 0 || dj != 0) && i+di >= 0 && i+di < s.cols && j+dj >= 0 && j+dj < s.rows {
				near = append(near, c+dj*s.cols+di)
			}
		}
	}
	return near
}

// centre of a cell in the frame, px.
func (s *Seen) centre(c int) (x, y float64) {
	i, j, b := c%s.cols, c/s.cols%s.rows, c/s.cols/s.rows
	return (float64(i) + 0.5) * float64(s.frameWidth) / float64(s.cols), float64(s.firstRow[b]) + (float64(j)+0.5)*float64(s.block)/float64(s.rows)
}

// ShareGlow lets groups of one camera know what another of them tells of its glow, which
// grows with the exposure, under whatever sky.
func ShareGlow(groups []*Input) {
	for _, in := range groups {
		if in.Found == nil || in.Found.Glow.Height.OK() {
			continue
		}
		joint := in.Found.Glow
		for _, o := range groups {
			if o.Found != nil && o.Camera.Same(in.Camera) {
				joint = joint.or(o.Found.Glow, in.Exposure/o.Exposure)
			}
		}
		with := *in.Found
		with.Glow = joint
		in.Found = &with
	}
}

// or is what another group tells, where that is more: longer is how much longer the
// exposure is here.
func (g SeenGlow) or(o SeenGlow, longer float64) SeenGlow {
	o.Height, o.AtMost = o.Height.Scaled(longer), o.AtMost*longer
	if o.Height.OK() && !(g.Height.OK() && g.Height.Err <= o.Height.Err) || !g.Height.OK() && o.AtMost < g.AtMost {
		return o
	}
	return g
}
