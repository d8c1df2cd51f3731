package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// The vanes that hold a mirror draw spikes from bright stars, of any number and
// direction. Along them the search finds knots; stars they are not, nor links of a
// satellite's track. What tells them: the line from the bright star to a knot
// shines all the way, and more than the circle through each of its points does on
// either side, so that halos do not count.

const (
	spikeStars   = 60   // brightest stars that may have spikes
	spikeBright  = 80.0 // times as bright as a knot at least: spikes hold some percent of a star's light
	spikeHeight  = 30.0 // times as high as the spike at least: a star in a cluster or on a track is not
	spikeLongest = 400  // px from the star
	spikeLeast   = 50   // px of the line to both sides of the star, without the knot
	spikeLit     = 0.7  // least share of the line that shines
	spikeRun     = 7    // points of the line that tell together whether it shines there
	spikeSigma   = 3.5  // by which the line's median brightness is sure
	topNoise     = 3.0  // standard deviations that noise adds to the highest of some pixels
	ownLight     = 5.0  // times the spike's brightness: a star of its own on the spike
)

// takeKnots takes off what lies on the spikes of brighter stars.
func takeKnots(p *plane.Plane, found Found, s Seeing) Found {
	var errs []float64
	for i := range found.Stars {
		errs = append(errs, found.Stars[i].FluxErr)
	}
	// A knot of five standard deviations is the least that any of them can have.
	least := 5 * spikeBright * stats.Median(errs)
	var bright []stars.Star
	for _, i := range stars.Brightest(found.Stars) {
		if b := found.Stars[i]; len(bright) < spikeStars && b.Flux >= least {
			bright = append(bright, b)
		}
	}
	if len(bright) == 0 {
		return found
	}
	isKnot := func(st stars.Star) bool {
		for k := range bright {
			if onSpike(p, &bright[k], &st, s) {
				return true
			}
		}
		return false
	}
	found.Stars = slices.DeleteFunc(found.Stars, func(st stars.Star) bool {
		knot := !st.Saturated && isKnot(st)
		if knot {
			found.Knots = append(found.Knots, st)
		}
		return knot
	})
	found.Broad = slices.DeleteFunc(found.Broad, isKnot)
	return found
}

// onSpike tells whether a detection lies on a spike of a bright star.
func onSpike(p *plane.Plane, b, st *stars.Star, s Seeing) bool {
	dx, dy := st.X-b.X, st.Y-b.Y
	far := math.Sqrt(dx*dx + dy*dy)
	from := int(2.5*s.Fwhm) + 1
	to := far - 1.5*s.Fwhm
	if far > spikeLongest || st.Flux*spikeBright > b.Flux || to < float64(from) {
		return false
	}
	away := ray{p, b.X, b.Y, dx / far, dy / far, 2.5*s.Fwhm + 1}
	// Every vane draws a spike to either side of the star.
	back := away
	back.cos, back.sin = -away.cos, -away.sin
	var here, there []float64
	if more := spikeLeast/2 - (int(to) - from); more <= 0 {
		if here = away.shine(from, to, false); here == nil {
			return false
		}
		there = back.shine(from, to, true)
	} else { // little of the line lies before the knot: what is beyond tells too
		here = away.shine(from, to, true)
		if len(here) > 0 && stats.Median(here) < 0.1 {
			return false
		}
		beyond := int(far+1.5*s.Fwhm) + 1
		here = append(here, away.shine(beyond, float64(beyond+more), true)...)
		there = back.shine(from, float64(from+spikeLeast/2), true)
	}
	median, lit := lineOf(slices.Concat(here, there))
	if !lit || b.Peak/p.Mesh.NoiseAt(b.X, b.Y) < spikeHeight*median {
		return false
	}
	for _, side := range [][]float64{here, there} {
		if m, _ := lineOf(side); m < median/3 {
			return false
		}
	}
	// Before the knot, or as far out on the other side, the spike is about as bright;
	// noise adds to its top.
	last := func(side []float64) float64 { return stats.Median(side[max(0, len(side)-int(4*s.Fwhm)):]) }
	near := max(last(here), median/4)
	if len(there) > 0 {
		near = max(near, last(there))
	}
	return st.Peak/p.Mesh.NoiseAt(st.X, st.Y) < topNoise+ownLight*near
}

// shine is the light along a ray, as far as it is inside the frame; nothing of one
// that is surely no spike, unless dark ones are asked for. It is followed inward,
// as most stars are told by the nearest pixels before them.
func (a *ray) shine(from int, to float64, darkToo bool) []float64 {
	const nearest = 31
	last := int(math.Ceil(to)) - 1
	signal := make([]float64, 0, last-from+1)
	mayBeDark := (1 - spikeLit) * float64(last-from+2-spikeRun)
	dark := 0.0
	for r := last; r >= from; r-- {
		v, ok := a.at(float64(r))
		if !ok {
			continue
		}
		signal = append(signal, v)
		n := len(signal)
		if n >= spikeRun && !isLit(signal[n-spikeRun:]) {
			dark++
		}
		if !darkToo && (dark > 0 && dark > mayBeDark || n == nearest && stats.Median(signal) < 0.1) {
			return nil
		}
	}
	slices.Reverse(signal)
	return signal
}

// lineOf is the median brightness of a line (NaN: too little of it is inside the
// frame), and whether it surely shines, all the way.
func lineOf(signal []float64) (median float64, lit bool) {
	if len(signal) < 5 {
		return math.NaN(), false
	}
	median = stats.Median(signal)
	return median, median > spikeSigma*1.2533/math.Sqrt(float64(len(signal))) && litShare(signal) >= spikeLit
}

// litShare is the share of a line that shines.
func litShare(signal []float64) float64 {
	run := min(spikeRun, len(signal))
	lit, n := 0, 0
	for i := 0; i+run <= len(signal); i++ {
		if isLit(signal[i : i+run]) {
			lit++
		}
		n++
	}
	return float64(lit) / float64(n)
}

// isLit tells whether a few points of a line shine: by more than the error of their
// mean, each of three pixels and six beside them.
func isLit(some []float64) bool { return stats.Mean(some) > 0.4 }

// ray is a line outward from a star.
type ray struct {
	p        *plane.Plane
	x, y     float64
	cos, sin float64 // of its direction
	beside   float64 // px along the circle to what it is compared with
}

// at is the light r px out above that beside, in standard deviations of one pixel;
// false outside the frame.
func (a *ray) at(r float64) (float64, bool) {
	x, y := a.x+r*a.cos, a.y+r*a.sin
	if x < 2 || y < 2 || x > float64(a.p.W-3) || y > float64(a.p.H-3) {
		return 0, false
	}
	sin, cos := math.Sincos(math.Min(a.beside/r, 0.35)) // between the spikes of eight vanes
	left := a.mean(r, a.cos*cos-a.sin*sin, a.sin*cos+a.cos*sin)
	right := a.mean(r, a.cos*cos+a.sin*sin, a.sin*cos-a.cos*sin)
	return (a.mean(r, a.cos, a.sin) - (left+right)/2) / a.p.Mesh.NoiseAt(x, y), true
}

// mean is that of three pixels across the direction, r px out.
func (a *ray) mean(r, cos, sin float64) float64 {
	x, y := a.x+r*cos+1.5, a.y+r*sin+1.5 // half a pixel rounds, one more keeps what is left of the frame negative
	var sum float64
	for k := -1.0; k <= 1; k++ {
		i, j := int(x-k*sin)-1, int(y+k*cos)-1
		if i >= 0 && j >= 0 && i < a.p.W && j < a.p.H {
			sum += float64(a.p.R[j*a.p.W+i])
		}
	}
	return sum / 3
}
