package night

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// A filter wheel that stuck, a filter or an exposure that the header tells wrongly: stars
// and sky then have another light alike, and the same one in sub after sub. No cloud does
// that: what it takes from stars it scatters, and of the sky's own light the most comes
// through (a layer that lets a tenth of starlight through directly passes some 0.8 of
// diffuse light: two-stream approximation with asymmetry 0.85, from memory). A dome or a
// tree that comes into the beam takes both, but another part of it in every sub. A cap or a flap
// that hangs before a part of the aperture takes the same part, but of all stars alike, whatever
// their colour, and the subs follow each other no sooner than their exposures take. One or two
// subs that have as many times the stars' light as the sky's of all others were exposed for
// longer than their headers tell; one or two with less may have been covered.
const (
	otherLightStep = 2.5  // times the light, from one heap of subs to the other
	longerStep     = 1.5  // times the light of all others, of one or two subs
	longerAlike    = 1.1  // the most of stars over sky in them, or sky over stars
	otherLightSky  = 0.35 // of the brighter ones' sky, at most
	otherLightEven = 1.3  // the most over the least light among the dimmer ones
	otherLightSure = 5    // standard deviations of the sky's scatter
	otherColours   = 0.08 // sd of ln of the light from star to star, of dimmer and brighter ones together, from which on colours tell of filters: stars' V-R scatter by 0.2 mag, and half of that is between L and R (from memory)
	otherSkySteady = 1.5  // the most over the least sky of either: dusk before a cloud is brighter, too, but goes
)

// partLight gives subs of one filter whose stars and sky both have several times the light
// of the others, or a fraction of it, a filter's name and stacks of their own.
func (r *Result) partLight(known *memory) {
	next := 0
	for _, s := range r.Subs {
		next = max(next, s.Stack+1)
	}
	for _, same := range sameFields(r.Subs) {
		parted := false
		for _, group := range ofOneLight(same) {
			dim, bright, times := heaps(group)
			if dim == nil {
				continue
			}
			odd, fewer := dim, 1/times
			if len(dim) > len(bright) {
				odd, fewer = bright, times
			}
			was := odd[0].Filter
			as := names.Name(strings.TrimSpace(string(was) + " other"))
			next = regroup(odd, next)
			for _, s := range odd {
				s.Filter = as
			}
			r.warn(OtherLight, fact.Count("subs", len(odd)), fact.Name("filter", frames.Printable(string(was))), fact.Number("times", fewer), fact.Text("as", frames.Printable(string(as))), fact.Text("file", frames.Printable(odd[0].File)))
			r.First = append(r.First, r.Warnings[len(r.Warnings)-1])
			parted = true
		}
		if parted {
			known.tie(same)
		}
	}
}

// heaps parts a filter's subs into dim and bright ones, where stars and sky tell alike that
// there are two kinds, and how many times the light of the dim stars the bright ones have;
// nil where there are none, or too few of one.
func heaps(group []*Sub) (dim, bright []*Sub, times float64) {
	lit := slices.DeleteFunc(slices.Clone(group), func(s *Sub) bool {
		return !s.Transparency.Ratio.OK() || !(s.Transparency.Ratio.V > 0) || !s.Calibrated || !s.SkyADU.OK()
	})
	slices.SortStableFunc(lit, func(a, b *Sub) int {
		return cmp.Compare(a.Transparency.Ratio.V, b.Transparency.Ratio.V)
	})
	cut := 0
	for i := fewestOther; i < len(lit); i++ {
		least := otherLightStep
		if len(lit)-i < fewestOther {
			least = longerStep
		}
		if step := lit[i].Transparency.Ratio.V / lit[i-1].Transparency.Ratio.V; step > max(times, least) {
			cut, times = i, step
		}
	}
	if cut == 0 || lit[cut-1].Transparency.Ratio.V > otherLightEven*lit[0].Transparency.Ratio.V {
		return nil, nil, 0
	}
	dim, bright = lit[:cut], lit[cut:]
	under, over := skyOver(dim, group[0]), skyOver(bright, group[0])
	scatter := math.Hypot(stats.MADSigma(under), stats.MADSigma(over))
	rise := stats.Median(over) - stats.Median(under)
	times = medianLight(bright) / medianLight(dim)
	alike := stats.Median(under) < otherLightSky*stats.Median(over)
	if len(bright) < fewestOther {
		alike = math.Abs(math.Log(stats.Median(over)/stats.Median(under)/times)) < math.Log(longerAlike)
	}
	if !alike || hangsBefore(dim, bright) || !(rise > otherLightSure*scatter) ||
		slices.Max(over) > otherSkySteady*slices.Min(over) || slices.Max(under) > otherSkySteady*slices.Min(under)+otherLightSure*scatter {
		return nil, nil, 0
	}
	return dim, bright, times
}

// hangsBefore tells that no filter and no exposure makes the dim subs so, but what hangs before
// the aperture.
func hangsBefore(dim, bright []*Sub) bool {
	scatter := func(s *Sub) float64 { return s.Transparency.Scatter }
	if len(bright) < fewestOther || medianOf(dim, scatter)+medianOf(bright, scatter) > otherColours {
		return false
	}
	begun := slices.SortedFunc(slices.Values(dim), func(a, b *Sub) int { return a.Start.Compare(b.Start) })
	for i, s := range begun[1:] {
		if !(s.Start.Sub(begun[i].Start).Seconds() > begun[i].Exposure) {
			return false
		}
	}
	return true
}

// skyOver are the skies of some subs, in ADU of the first's exposure and gain.
func skyOver(some []*Sub, first *Sub) (levels []float64) {
	for _, s := range some {
		levels = append(levels, s.SkyADU.V/lightScale(s, first))
	}
	return levels
}

func medianLight(some []*Sub) float64 {
	return medianOf(some, func(s *Sub) float64 { return s.Transparency.Ratio.V })
}

func medianOf(some []*Sub, figure func(*Sub) float64) float64 {
	var all []float64
	for _, s := range some {
		all = append(all, figure(s))
	}
	return stats.Median(all)
}
