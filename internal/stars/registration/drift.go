package registration

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// drift is the speed of the straight drift: within the rests between dithers, where there
// are some, since it rests on no pattern of the dithers; else of the path over the night,
// by the slopes between its subs.
func drift(stretches [][]pointing, sx, sy []float64, n int) stats.Value {
	if resting := restDrift(stretches); resting.OK() {
		return resting
	}
	return stats.Known(math.Hypot(stats.Median(sx), stats.Median(sy)), pathError(stretches), n)
}

// restDrift is the common slope within rests, least squares with a middle of its own for
// each. Its error is by how far the slopes of the rests lie from that of the others (the
// jackknife of Tukey 1958, Ann. Math. Statist. 29, 614; from memory), which holds for a
// rest that hides a small dither too.
func restDrift(stretches [][]pointing) stats.Value {
	var all slope
	var each []slope
	n := 0
	for _, st := range stretches {
		for from := 0; from < len(st) && st[from].timed; {
			to := restEnd(st, from)
			if s := slopeWithin(st[from:to]); s.uu > 0 {
				each = append(each, s)
				all = slope{all.uu + s.uu, all.ux + s.ux, all.uy + s.uy}
				n += to - from
			}
			from = to
		}
	}
	if len(each) < fewestSteps {
		return stats.Missing(stars.FewPairsOfSubs)
	}
	var square float64
	for _, s := range each {
		rest := all.uu - s.uu
		square += math.Pow((all.ux-s.ux)/rest-all.ux/all.uu, 2) + math.Pow((all.uy-s.uy)/rest-all.uy/all.uu, 2)
	}
	share := float64(len(each)-1) / float64(len(each))
	return stats.Known(math.Hypot(all.ux, all.uy)/all.uu, math.Sqrt(share*square/2), n)
}

// slopeWithin is the slope of one rest.
func slopeWithin(rest []pointing) (s slope) {
	mean := meanOf(rest)
	for _, p := range rest {
		s.add(p.hours-mean.hours, p.x-mean.x, p.y-mean.y)
	}
	return s
}

const (
	// walkRatio is what the variance of dithers by their steps is of that about a bowed
	// path, below which they are taken for a walk: dithers about a centre leave 1, a walk of
	// n dithers 7.8/n (a third of a step's variance, over 3n/70 of it). Closer to 1, since
	// the error of a walk only says too little of the others, and theirs too much of a walk.
	walkRatio = 0.75
	// walkSpread is the variance of a straight line's slope through a walk, in variances of
	// its steps times their number over the time squared.
	walkSpread = 1.2
)

// pathError is the standard error of a coordinate's slope over stretches of dithers. Those
// about a centre are free of each other; a walk's add up.
func pathError(stretches [][]pointing) float64 {
	var about, span, steps float64
	var tt, walk float64
	free := 0
	for _, st := range stretches {
		rests := restsOf(st)
		if m := len(rests); m > 3 && rests[0].timed {
			a, t2 := aboutBow(rests)
			about, free = about+a, free+m-3
			_, sum := offNeighbours(rests)
			steps, span = steps+sum, span+float64(m-2)
			long := rests[m-1].hours - rests[0].hours
			tt, walk = tt+t2, walk+t2*t2*walkSpread*float64(m)/(long*long)
		}
	}
	if tt == 0 || free == 0 {
		return math.NaN()
	}
	about, steps = about/(2*float64(free)), steps/(2*span)
	if steps < walkRatio*about {
		return math.Sqrt(3*steps*walk) / tt
	}
	return math.Sqrt(steps / tt)
}

// aboutBow is the sum of the squared distances of rests from a parabola in time that fits
// them best, and that of their times from the middle.
func aboutBow(rests []pointing) (about, tt float64) {
	n := float64(len(rests))
	var mid, skew, mx, my float64
	for _, p := range rests {
		mid, mx, my = mid+p.hours/n, mx+p.x/n, my+p.y/n
	}
	for _, p := range rests {
		t := p.hours - mid
		tt, skew = tt+t*t, skew+t*t*t
	}
	var one, two slope // on the straight part, and on what of the bow is orthogonal to it
	for _, p := range rests {
		t, x, y := p.hours-mid, p.x-mx, p.y-my
		about += x*x + y*y
		one.add(t, x, y)
		two.add(t*t-skew/tt*t-tt/n, x, y)
	}
	return max(0, about-one.share()-two.share()), tt
}

// slope is the least-squares fit of both coordinates on one vector, u.
type slope struct{ uu, ux, uy float64 }

func (p *slope) add(u, x, y float64) { p.uu, p.ux, p.uy = p.uu+u*u, p.ux+u*x, p.uy+u*y }

// share is what of the squares of the coordinates the fit takes.
func (p *slope) share() float64 {
	if p.uu == 0 {
		return 0
	}
	return (p.ux*p.ux + p.uy*p.uy) / p.uu
}
