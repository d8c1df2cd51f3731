package subs

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

const (
	focusByChance = 1e-4 // how often chance may leave as little as a loss of focus does
	levelsDiffer  = 0.08 // of ln FWHM, by which filters differ in focus, and spells in seeing
	seeingMemory  = 0.5  // h, after which seeing that wanders has forgotten most
	focusWidths   = 150  // widths that are followed, at most
	focusOutlier  = 3    // times the scatter, from which a residual counts as an outlier
)

// width is one on the curve: a sub's, or that of several.
type width struct {
	e     *evidence   // the sub, or the middle one
	subs  []*evidence // all of them
	hours float64     // from the middle of the first exposure to that of this one
	ln    float64     // ln FWHM at the zenith, along the narrow axis of trailed stars
	air   float64     // what was taken off it for that, as seeing goes with airmass
	err   float64     // of ln, by what was measured; the rest of the scatter is the air's
	level int         // of the filter and the spell: which of the widths in focus it is over
}

// course is what became of the focus: a disc, of the width in focus, that is out of it.
type course struct {
	onset  int     // the last sub in focus
	disc   float64 // as large as this an hour later, or at once
	sudden bool
}

// widens is by how much the disc makes ln FWHM larger in one of the subs.
func (c course) widens(all []width, i int) float64 {
	switch {
	case i <= c.onset:
		return 0
	case c.sudden:
		return 0.5 * math.Log1p(c.disc*c.disc)
	}
	return 0.5 * math.Log1p(square(c.disc*math.Max(0, all[i].hours-all[c.onset].hours)))
}

// focusFit is the course that leaves least of the widths.
type focusFit struct {
	course
	curve
	least  float64   // mean square residual of ln FWHM
	base   []float64 // ln FWHM in focus of each level
	onsets []tried
}

// curve is what widths are fitted with: how far ln FWHM scatters from sub to sub, and how
// much of what is left is seeing that wanders.
type curve struct{ scatter, wanders float64 }

// tried is the best of the courses with one onset.
type tried struct {
	course
	least float64
}

// sum of the squared residuals.
func (f *focusFit) sum(all []width) float64 { return f.least * float64(len(all)) }

// bestFocus looks for the course that leaves least, by residuals as if each stood for
// itself; wandering looks again with what they show to go together (Cochrane and Orcutt
// 1949, JASA 44, 32, from memory).
func bestFocus(all []width, scatter float64) *focusFit {
	return curve{scatter: scatter}.best(all)
}

func (f *focusFit) wandering(all []width) *focusFit {
	return curve{f.scatter, f.wanderingShare(all)}.best(all)
}

func (c curve) best(all []width) *focusFit {
	best := c.bestOf(all, false)
	if step := c.bestOf(all, true); step.least < best.least {
		best = step
	}
	_, best.base = c.residuals(all, best.course)
	return best
}

// bestOf looks for the onset and the disc that leave least, among the discs that grow or
// those that are there at once.
func (c curve) bestOf(all []width, sudden bool) *focusFit {
	best := &focusFit{curve: c, least: math.Inf(1)}
	if !(all[len(all)-1].hours > 0) {
		return best
	}
	for i := range len(all) - 1 {
		t := c.bestDisc(all, i, sudden)
		if best.onsets = append(best.onsets, t); t.least < best.least {
			best.course, best.least = t.course, t.least
		}
	}
	return best
}

// bestDisc is the disc since an onset that leaves least: up to three widths at the
// end, in steps of a half first, and then in ever smaller ones around the best.
func (c curve) bestDisc(all []width, onset int, sudden bool) tried {
	const coarse, steps, halvings = 1.5, 9, 5 // down to a ninth of a width, to 2 %
	best := tried{least: math.Inf(1)}
	try := func(disc float64) {
		to := course{onset, disc, sudden}
		if r, _ := c.residuals(all, to); r < best.least {
			best = tried{to, r}
		}
	}
	most := 3.0
	if !sudden {
		most /= all[len(all)-1].hours - all[onset].hours
	}
	for k := range steps {
		try(most * math.Pow(coarse, -float64(k)))
	}
	for step := math.Sqrt(coarse); step > math.Pow(coarse, math.Exp2(-halvings-1)); step = math.Sqrt(step) {
		middle := best.disc
		try(middle * step)
		try(middle / step)
	}
	return best
}

// byChance tells whether widths that only wander may as well leave as little: with m
// degrees of freedom two more unknowns, onset and disc, leave by chance less than
// P^(2/m) of the squares with the probability P (the F distribution with two degrees of
// freedom in closed form).
func (f *focusFit) byChance(all []width) bool {
	m := float64(len(all) - f.unknowns(all))
	return !(m > 0) || !(f.least < f.inFocus(all)*math.Pow(focusByChance, 2/m))
}

// inFocus is what is left where no focus is lost, and the widths follow the airmass as seeing
// does, not at all, as where the optics or the air near the ground make them, or by a part
// of that: widths that stay the same while a target rises are no loss of focus.
func (f *focusFit) inFocus(all []width) float64 {
	least := math.Inf(1)
	part := slices.Clone(all)
	for of := 0.0; of <= 1; of += 0.25 {
		for i, w := range all {
			part[i].ln = w.ln + of*w.air
		}
		left, _ := f.residuals(part, course{onset: len(all)})
		least = math.Min(least, left)
	}
	return least
}

// unknowns are onset, disc and the levels.
func (f *focusFit) unknowns(all []width) int {
	seen := map[int]bool{}
	for _, w := range all {
		seen[w.level] = true
	}
	return 2 + len(seen)
}

// wanderingShare is the share of the variance of what is left that wanders, with the
// seeing's memory: by how far it goes together from one sub to the next. Of a few that
// a curve was fitted to, a correlation r comes out low by about (3+5r)/N.
func (f *focusFit) wanderingShare(all []width) float64 {
	var own, next, memory float64
	before := 0.0
	for i, w := range all {
		r := w.ln - f.widens(all, i) - f.base[w.level]
		own += r*r - w.err*w.err
		next += r * before
		before = r
		if i > 0 {
			memory += math.Exp((all[i-1].hours-w.hours)/seeingMemory) / float64(len(all)-1)
		}
	}
	if n := float64(len(all)); own > 0 && next > 0 && n > 8 {
		return math.Min(0.95, (next/own+3/n)/(1-5/n)/memory)
	}
	return 0
}

// errors are the standard errors of the onset's time, h, and of the disc. The onset's is a
// quarter of the stretch of time over which onsets leave hardly more than the best: by
// four squared standard deviations of one width on its own, so that it spans two errors
// either way. The disc's is that for its onset, and as much again as it differs over that
// stretch.
func (f *focusFit) errors(all []width) (since, disc float64) {
	n := float64(len(all))
	variance := f.least / math.Max(1, n-float64(f.unknowns(all)))
	first, last := f.course, f.course
	for _, t := range f.onsets {
		if t.least <= f.least+4*variance {
			if t.onset < first.onset {
				first = t.course
			}
			if t.onset > last.onset {
				last = t.course
			}
		}
	}
	spacing := all[len(all)-1].hours / (n - 1)
	since = math.Hypot((all[last.onset].hours-all[first.onset].hours)/4, spacing/math.Sqrt(12))
	return since, math.Hypot((last.disc-first.disc)/4, math.Sqrt(n*variance/f.tells(all)))
}

// tells is how much the widths tell of the disc: the squared slopes of what is left with
// it, over their mean.
func (f *focusFit) tells(all []width) float64 {
	const step = 1e-3
	more := f.course
	more.disc *= 1 + step
	slopes := make([]float64, len(all))
	for i := range all {
		slopes[i] = (more.widens(all, i) - f.widens(all, i)) / (step * f.disc)
	}
	mean := stats.Mean(slopes)
	for i := range slopes {
		slopes[i] -= mean
	}
	sum := 0.0
	for _, s := range f.apart(all, slopes) {
		sum += s * s
	}
	return sum
}

// residuals is the mean square residual of a course, each beyond
// focusOutlier times the scatter counted by its size, and ln b of each level.
func (c curve) residuals(all []width, to course) (float64, []float64) {
	rest, levels := make([]float64, len(all)), 0
	for i, w := range all {
		rest[i] = w.ln - to.widens(all, i)
		levels = max(levels, w.level+1)
	}
	base, of := make([]float64, levels), make([]float64, 0, len(all))
	for l := range base {
		of = of[:0]
		for i, w := range all {
			if w.level == l {
				of = append(of, rest[i])
			}
		}
		base[l] = clippedMean(of, focusOutlier*c.scatter)
	}
	for i, w := range all {
		rest[i] -= base[w.level]
	}
	sum := 0.0
	for _, r := range c.apart(all, rest) {
		sum += huber(r, focusOutlier*c.scatter)
	}
	// Levels differ little: what one that was never in focus leaves open.
	for _, b := range base {
		sum += square(c.scatter / levelsDiffer * (b - base[0]))
	}
	return sum / float64(len(all)), base
}

// apart are residuals less what those before them let expect, each over its standard
// deviation beside that of all: of what wanders and what scatters on top, by the best
// prediction from one to the next (Kalman 1960, from memory).
func (c curve) apart(all []width, rest []float64) []float64 {
	if c.wanders == 0 {
		return rest
	}
	out := make([]float64, len(rest))
	expected, open := 0.0, c.wanders // what wanders, and the variance of that
	for i, r := range rest {
		if i > 0 {
			m := math.Exp((all[i-1].hours - all[i].hours) / seeingMemory)
			expected, open = m*expected, c.wanders+m*m*(open-c.wanders)
		}
		variance := open + 1 - c.wanders
		out[i] = (r - expected) / math.Sqrt(variance)
		share := open / variance
		expected, open = expected+share*(r-expected), open*(1-share)
	}
	return out
}

// huber is the square of a residual, beyond k growing as its size (Huber 1964, Ann.
// Math. Statist. 35, 73).
func huber(r, k float64) float64 {
	if r = math.Abs(r); r > k {
		return k * (2*r - k)
	}
	return r * r
}

// clippedMean of the values within so much of their median.
func clippedMean(x []float64, within float64) float64 {
	middle := stats.Median(x)
	sum, n := 0.0, 0.0
	for _, v := range x {
		if math.Abs(v-middle) <= within {
			sum, n = sum+v, n+1
		}
	}
	if n == 0 {
		return middle
	}
	return sum / n
}

// widthScatter is how far widths scatter from sub to sub: by the differences of
// those that follow each other through one filter, which a drift hardly touches.
func widthScatter(all []width) float64 {
	var steps []float64
	last := map[int]float64{}
	for _, w := range all {
		if before, ok := last[w.level]; ok {
			steps = append(steps, math.Abs(w.ln-before)/math.Sqrt2)
		}
		last[w.level] = w.ln
	}
	if len(steps) == 0 {
		return focusLeast
	}
	return math.Max(focusLeast, stats.MADToSigma*stats.Median(steps))
}
