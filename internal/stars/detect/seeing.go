package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// Seeing is a first idea of the size and form of the star images, good to a
// quarter or so: what the detection filter is made from.
type Seeing struct {
	Fwhm       float64 // px, geometric mean, pixel included
	Xx, Xy, Yy float64 // px², covariance of the Gaussian of that size and form
	Bright     int     // images behind it
	Hollow     float64 // share of them that are darker in the middle
}

// RoundSeeing is one without direction, of an FWHM in px.
func RoundSeeing(fwhm float64) Seeing {
	v := fwhm * fwhm / (stars.SigmaToFWHM * stars.SigmaToFWHM)
	return Seeing{Fwhm: fwhm, Xx: v, Yy: v}
}

// LeastFilter is the FWHM of the narrowest filter, px: a star that falls between two
// pixels lights both.
const LeastFilter = 1.2

// AtLeast is the seeing, or a round one of that FWHM where it is less.
func (s Seeing) AtLeast(fwhm float64) Seeing {
	if s.Fwhm >= fwhm {
		return s
	}
	round := RoundSeeing(fwhm)
	round.Bright, round.Hollow = s.Bright, s.Hollow
	return round
}

// EstimateSeeing looks at the brightest unsaturated peaks. The region around a
// peak that is brighter than half of it has the full width at half maximum as
// its diameter, whatever the profile, and shows a ring as a ring. Where single
// pixels carry too few peaks (broad images) the frame is summed over 4x4 px and
// looked at again, unless those few are stars: what more the sums show is then knots of
// nebulae.
func EstimateSeeing(p *plane.Plane) (Seeing, bool) {
	fine := halfRegions(p.R, p.W, p.H, noiseBlocks(p, 1, 10), p.Saturation, p)
	if len(fine) >= 15 || areStars(fine) {
		return summarise(fine, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	small, w, h := binned(p, 4)
	// Summing 16 px raises the noise by 4.
	coarse := halfRegions(small, w, h, noiseBlocks(p, 4, 40), math.Inf(1), nil)
	if few := starsOfBoth(fine, coarse, 4); len(few) > 0 {
		return summarise(few, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	if len(coarse) > 2*len(fine) {
		s := summarise(coarse, 4, w, h)
		if s.Fwhm > 6 {
			return s, true
		}
	}
	if len(fine) > 0 {
		return summarise(fine, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	return Seeing{}, false
}

// fewestStars is how many images must be alike to be stars among few: fewer where they
// are closely so.
const fewestStars, fewestClose, closely = 4, 3, 1.2

// areStars tells that most of few regions are well sampled and alike, as neither hot pixels
// and particles nor knots of nebulae are.
func areStars(few []region) bool {
	sizes := sampledSizes(few)
	slices.Sort(sizes)
	most, close := 0, 0
	for i := range sizes {
		most, close = max(most, alikeTo(sizes, i, alike)-i), max(close, alikeTo(sizes, i, closely)-i)
	}
	return 2*most >= len(sizes) && (most >= fewestStars || close >= fewestClose)
}

// sampledSizes are the sizes of those regions that are well sampled, and no tracks, px.
func sampledSizes(regs []region) (sizes []float64) {
	for i := range regs {
		if a := regs[i].across(); regs[i].fades && a >= wellSampled {
			sizes = append(sizes, a)
		}
	}
	return sizes
}

// starsOfBoth are the stars among a few regions of single pixels, from the smallest well
// sampled one on, where the regions of sums over bin x bin px bear that out: they show
// each at its place, no larger than the sums make it. Hot pixels side by side may do that
// in a field out of focus, but hardly two alike; one is believed where a third of the sums'
// regions are as small, as fainter stars are and knots of nebulae are not.
func starsOfBoth(fine, coarse []region, bin int) []region {
	sampled := slices.DeleteFunc(slices.Clone(fine), func(g region) bool { return !g.fades || g.across() < wellSampled })
	if len(sampled) == 0 {
		return nil
	}
	smallest := math.Inf(1)
	for i := range sampled {
		smallest = math.Min(smallest, sampled[i].across())
	}
	small := slices.DeleteFunc(slices.Clone(coarse), func(g region) bool { return g.across() > smallest/float64(bin)+widened })
	few := slices.DeleteFunc(slices.Clone(sampled), func(g region) bool {
		at := func(c region) bool {
			return math.Hypot((c.cx+0.5)*float64(bin)-g.cx, (c.cy+0.5)*float64(bin)-g.cy) < 1.5*float64(bin)
		}
		return g.across() > alike*smallest || !slices.ContainsFunc(small, at)
	})
	if len(few) >= 2 && 2*len(few) >= len(sampled) || len(few) == 1 && len(small) >= fewestClose && 3*len(small) >= len(coarse) {
		return few
	}
	return nil
}

// widened is by how much a region of half a dozen pixels may be wider than its image: as
// one that lies on a corner, where 2x2 px are lit at least (across 2.3).
const widened = 1.5

// summarise turns regions of a picture of w x h, summed over bin x bin px, into one
// seeing.
func summarise(regs []region, bin, w, h int) Seeing {
	// In a long exposure of few stars there may be more tracks of particles than
	// stars. They are only separated where the stars are well sampled.
	fading := slices.DeleteFunc(slices.Clone(regs), func(g region) bool { return !g.fades })
	var sizes []float64
	for _, g := range fading {
		sizes = append(sizes, g.across())
	}
	if len(fading) >= 5 && stats.Median(sizes) > wellSampled {
		regs = fading
	}
	var size, xx, xy, yy []float64
	hollow := 0
	for _, g := range regs {
		across := g.across()
		// A ring counts with its outer diameter: its second moment is that of
		// a disc sqrt(2) times as wide, or less.
		if m := math.Sqrt(g.xx*g.yy - g.xy*g.xy); g.hollow && m > 0 {
			across = max(across, 2*math.Sqrt(2)*math.Sqrt(m))
		}
		size = append(size, across)
		if g.hollow {
			hollow++
		}
		if t := g.xx + g.yy; t > 0 {
			xx, xy, yy = append(xx, g.xx/t), append(xy, g.xy/t), append(yy, g.yy/t)
		}
	}
	fwhm := starSize(regs, size, least(bin), w, h)
	s := RoundSeeing(fwhm * float64(bin))
	s.Bright = len(regs)
	s.Hollow = float64(hollow) / float64(len(regs))
	// Regions of a dozen pixels or fewer have no form worth the name.
	if fwhm >= 3.5 && s.Hollow < 0.5 {
		a, b, c := stats.Median(xx), stats.Median(xy), stats.Median(yy)
		if det := a*c - b*b; det > 0.002 {
			k := s.Xx / math.Sqrt(det)
			s.Xx, s.Xy, s.Yy = k*a, k*b, k*c
		}
	}
	return s
}
