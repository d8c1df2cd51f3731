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
			bright = append(bright, unclipped(b, s))
		}
	}
	if len(bright) == 0 {
		return found
	}
	look := newSpikes(p, s)
	isKnot := func(st stars.Star) bool {
		for k := range bright {
			if look.onSpike(&bright[k], &st) {
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

// unclipped is a star as bright as it would be, had its pixels not been full: its spikes
// hold a share of all its light. What is left of a profile (Moffat's, with an exponent of 3,
// the broadest that the atmosphere makes: Trujillo et al. 2001, MNRAS 328, 977) whose top is
// cut off at a radius r has pi (3 r² + size²) / 2 times the light of its highest pixel.
func unclipped(b stars.Star, s Seeing) stars.Star {
	if !b.Saturated {
		return b
	}
	size2 := s.Fwhm * s.Fwhm / 4 / (math.Cbrt(2) - 1)
	full2 := (2*b.Flux/b.Peak/math.Pi - size2) / 3
	if full2 > 0 {
		b.Peak *= math.Pow(1+full2/size2, 3)
		b.Flux = max(b.Flux, b.Peak*math.Pi*size2/2)
	}
	return b
}

// spikes is what all looks for spikes on one picture have in common.
type spikes struct {
	p     *plane.Plane
	s     Seeing
	turns []turn // along the circle, for every px from the star, to what the line is compared with
	at    [nearest * 3 * 3]int32
	noise [nearest]float64
	light [nearest]float64
	line  []float64
}

// turn is the sine and cosine of an angle.
type turn struct{ sin, cos float64 }

func newSpikes(p *plane.Plane, s Seeing) *spikes {
	longest := spikeLongest + spikeLeast + int(1.5*s.Fwhm) + 2
	look := &spikes{p: p, s: s, turns: make([]turn, longest+1)}
	beside := 2.5*s.Fwhm + 1 // px
	for r := range look.turns {
		t := &look.turns[r]
		t.sin, t.cos = math.Sincos(math.Min(beside/float64(r), 0.35)) // between the spikes of eight vanes
	}
	return look
}

// onSpike tells whether a detection lies on a spike of a bright star.
func (look *spikes) onSpike(b, st *stars.Star) bool {
	p, s := look.p, look.s
	dx, dy := st.X-b.X, st.Y-b.Y
	if dx*dx+dy*dy > spikeLongest*spikeLongest || st.Flux*spikeBright > b.Flux {
		return false // nearly all end here
	}
	far := math.Sqrt(dx*dx + dy*dy)
	from := int(2.5*s.Fwhm) + 1
	to := far - 1.5*s.Fwhm
	if to < float64(from) {
		return false
	}
	away := ray{look, b.X, b.Y, dx / far, dy / far}
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

// nearest is how many points before a knot tell that it lies on no spike, where half of
// them are dark.
const nearest = 31

// shine is the light along a ray, as far as it is inside the frame; nothing of one
// that is surely no spike, unless dark ones are asked for. It is followed inward,
// as most stars are told by the nearest pixels before them.
func (a *ray) shine(from int, to float64, darkToo bool) []float64 {
	last := int(math.Ceil(to)) - 1
	signal := a.line[:0]
	mayBeDark := (1 - spikeLit) * float64(last-from+2-spikeRun)
	dark := 0.0
	for r := last; r >= from; r -= nearest {
		before := len(signal)
		signal = append(signal, a.inward(r, max(from, r-nearest+1))...)
		if !darkToo && before < nearest && len(signal) >= nearest && mostAreDark(signal[:nearest]) {
			return nil
		}
		for n := max(before+1, spikeRun); n <= len(signal); n++ {
			if !isLit(signal[n-spikeRun : n]) {
				dark++
			}
		}
		if !darkToo && dark > 0 && dark > mayBeDark {
			return nil
		}
	}
	a.line = signal
	signal = append([]float64{}, signal...) // not nil: it may shine, even if none of it is inside
	slices.Reverse(signal)
	return signal
}

// mostAreDark tells whether the median of points along a line hardly shines.
func mostAreDark(points []float64) bool {
	n := 0
	for _, v := range points {
		if v < 0.1 {
			n++
		}
	}
	return n > len(points)/2
}

// lineOf is the median brightness of a line (NaN: too little of it is inside the
// frame), and whether it surely shines, all the way.
func lineOf(signal []float64) (median float64, lit bool) {
	if len(signal) < 5 {
		return math.NaN(), false
	}
	median = stats.Median(signal)
	return median, median > spikeSigma*stats.MedianErr/math.Sqrt(float64(len(signal))) && litShare(signal) >= spikeLit
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
	*spikes
	x, y     float64
	cos, sin float64 // of its direction
}

// inward is the light above that beside the line at points from px far on inward to px
// near, nearest at most, in standard deviations of one pixel, without those outside the
// frame. Where all pixels are is told before the first is looked at, so that the
// processor need not wait for one after the other.
func (a *ray) inward(far, near int) []float64 {
	n := 0
	first, last := a.noiseAt(far), a.noiseAt(near)
	for r := far; r >= near; r-- {
		out := float64(r)
		x, y := a.x+out*a.cos, a.y+out*a.sin
		if x < 2 || y < 2 || x > float64(a.p.W-3) || y > float64(a.p.H-3) {
			continue
		}
		t := &a.turns[r]
		at := a.at[9*n:][:9]
		a.across(at[:3], out, a.cos, a.sin)
		a.across(at[3:6], out, a.cos*t.cos-a.sin*t.sin, a.sin*t.cos+a.cos*t.sin)
		a.across(at[6:], out, a.cos*t.cos+a.sin*t.sin, a.sin*t.cos-a.cos*t.sin)
		a.noise[n] = first + (last-first)*float64(far-r)/float64(max(far-near, 1)) // cells of the mesh are longer
		n++
	}
	stats.Fetch(a.p.R, 0, a.at[:9*n])
	for i := range n {
		at := a.at[9*i:][:9]
		middle, left, right := a.mean(at[:3]), a.mean(at[3:6]), a.mean(at[6:])
		a.light[i] = (middle - (left+right)/2) / a.noise[i]
	}
	return a.light[:n]
}

// noiseAt is the noise of a pixel r px out.
func (a *ray) noiseAt(r int) float64 {
	return a.p.Mesh.NoiseAt(a.x+float64(r)*a.cos, a.y+float64(r)*a.sin)
}

// across gives the indices of three pixels across a direction, r px out; -1 outside the
// frame.
func (a *ray) across(at []int32, r, cos, sin float64) {
	x, y := a.x+r*cos+1.5, a.y+r*sin+1.5 // half a pixel rounds, one more keeps what is left of the frame negative
	for k := range at {
		step := float64(k - 1)
		i, j := int(x-step*sin)-1, int(y+step*cos)-1
		at[k] = -1
		if i >= 0 && j >= 0 && i < a.p.W && j < a.p.H {
			at[k] = int32(j*a.p.W + i)
		}
	}
}

// mean is that of pixels, of which those outside the frame hold nothing.
func (a *ray) mean(at []int32) float64 {
	var sum float64
	for _, i := range at {
		if i >= 0 {
			sum += float64(a.p.R[i])
		}
	}
	return sum / float64(len(at))
}
