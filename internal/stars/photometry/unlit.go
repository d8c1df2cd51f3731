package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A roof or a tree hides the sky as well as the stars: where there are too few stars
// to miss any, the sky tells. Its level over the field is held, part by part,
// against that of the other fields that point the same way, so that vignetting and
// nebulae cancel. Moon and town make a slope, which turns with the hour: what lies on the
// plane of the lit parts is no edge. What is lit as bright as the sky, and frost, only
// stars tell.
const (
	unlitSky    = 0.75 // of the sky of the lit parts, under which a part is dark
	unlitSure   = 5    // standard errors by which it has to be darker
	unlitLeast  = 4.   // parts that are dark together before they count: 6 % of the field
	unlitPeers  = 2    // other fields that tell what the sky is like,
	unlitShare  = 0.25 // and of those that can tell, that do
	goneShare   = 0.12 // likewise, where the stars are gone as well: the others are covered too
	unlitMost   = 32   // about as many are asked of a long night, all over it
	peersApart  = 0.1  // of the field's width, that they may point elsewhere
	unlitErr    = 0.02 // of the share of the field: what is dark ends somewhere within a part
	levelFrom   = 500  // pixels behind the level of a part at least
	litLevel    = 0.8  // quantile of the parts' sky that is a lit one's
	fainterMost = 2    // times the light of a field's stars over another's, beyond which vignetting of the other's glow hides what the other tells
	slopeMost   = 0.4  // of the sky's level, to which a slope brings it down at most

	samePicture = 0.18 // sd of the ratio of the lit parts up to which two fields show one sky, where too few stars tell: edges are soft, and nebulae move with the dither
)

// levelErr is the standard error of a part's level.
func levelErr(f *stars.Field) float64 { return f.Noise.V / math.Sqrt(levelFrom) }

// shareOf is the share of the parts whose level is known that are dark, where they are
// enough.
func shareOf(dark []bool, level []float64) float64 {
	var n, measured float64
	for k, d := range dark {
		if !math.IsNaN(level[k]) {
			measured++
			if d {
				n++
			}
		}
	}
	if n < unlitLeast {
		return 0
	}
	return n / measured
}

// shine tells whether most of the stars that must be in the dark parts are there:
// then it is the sky alone that is darker. A few stand on the rim, and one alone tells
// nothing. Where most of the fields are covered, most of them lack what lies behind.
func (z *zeroPoints) shine(j int, dark []bool) bool {
	seen, all := 0, 0
	for _, d := range slices.Concat(z.dues[j], z.lacked[j]) {
		if dark[stars.PartOf(d.x, d.y, z.fields[j].Width, z.fields[j].Height, stars.SkyParts)] {
			if all++; d.seen != nil && z.residual(j, d.seen) > math.Log(unlitSky) {
				seen++
			}
		}
	}
	return seen > 1 && 2*seen > all
}

// darkParts are those that are darker than in a share of the other fields, and in two at
// least: one may be lit by what passed, and the others be covered as well.
func (z *zeroPoints) darkParts(j int, own []float64, share float64) []bool {
	return z.voted(j, len(own), share, func(i int) []bool {
		sky, lit := litSky(z.fields[i])
		if !(lit > 0) {
			return nil
		}
		dark, unlike := darkerThan(own, sky)
		if z.tied(i, j) && !z.pointsLike(i, j) || !z.tied(i, j) && !(unlike < samePicture) {
			return nil
		}
		if z.tied(i, j) { // what moved with the dither is dark nowhere
			alsoDark, _ := darkerThan(own, z.moved(sky, i, j))
			for k := range dark {
				dark[k] = dark[k] && alsoDark[k]
			}
		}
		if z.why[i] == "" && z.why[j] == "" {
			gain := math.Exp(z.zero[j]-z.zero[i]) * z.scaleOf(j) / z.scaleOf(i)
			if gain > fainterMost {
				return nil
			}
			keepShort(dark, z.fields[j].SkyParts, z.fields[i].SkyParts, gain)
		}
		return dark
	})
}

// moved is the picture of field i by part as it lies on field j by the stars, between the
// middles of parts by both of either direction, and beyond the last as there.
func (z *zeroPoints) moved(sky []float64, i, j int) []float64 {
	const side = stars.SkyParts
	a, b, f := &z.al[i], &z.al[j], z.fields[j]
	du, dv := side*(b.ShiftX.V-a.ShiftX.V)/float64(f.Width), side*(b.ShiftY.V-a.ShiftY.V)/float64(f.Height)
	at := func(u, v float64) float64 {
		u, v = min(max(u, 0), side-1), min(max(v, 0), side-1)
		x, y := int(min(u, side-2)), int(min(v, side-2))
		u, v = u-float64(x), v-float64(y)
		row := sky[y*side+x:]
		return (1-v)*((1-u)*row[0]+u*row[1]) + v*((1-u)*row[side]+u*row[side+1])
	}
	out := make([]float64, len(sky))
	for k := range out {
		out[k] = at(float64(k%side)-du, float64(k/side)-dv)
	}
	return out
}

// voted are the parts that a share of the fields asked vote for, each with what it sees in
// them; nil of those that cannot tell.
func (z *zeroPoints) voted(j, parts int, share float64, ask func(i int) []bool) []bool {
	votes, peers := make([]int, parts), 0
	z.eachPeer(j, func(i int) {
		seen := ask(i)
		if seen != nil {
			peers++
		}
		for k, d := range seen {
			if d {
				votes[k]++
			}
		}
	})
	dark := make([]bool, parts)
	for k, n := range votes {
		dark[k] = n >= unlitPeers && float64(n) >= share*float64(peers)
	}
	return dark
}

// eachPeer goes over the other fields that are asked of one's sky.
func (z *zeroPoints) eachPeer(j int, ask func(i int)) {
	step := 1 + len(z.fields)/unlitMost
	for i := j % step; i < len(z.fields); i += step {
		if i != j && z.fields[i] != nil {
			ask(i)
		}
	}
}

// keepShort leaves of the parts that are dark beside another field those whose level
// falls short of what the other shows there. A brighter sky fills the picture of a nebula
// up, and cloud dims it as it dims the stars: beside such a field all that is no nebula
// is dark by its ratio. Less the other's level times gain, which brings it to the same
// light of the stars, nebulae cancel, and what is left of both skies is flat but for a
// slope.
func keepShort(dark []bool, own, other []float64, gain float64) {
	rest := make([]float64, len(own))
	for k := range rest {
		rest[k] = own[k] - gain*other[k]
	}
	slope := slopeOf(rest)
	for k := range dark {
		dark[k] = dark[k] && own[k] < unlitSky*(slope.At(partAt(k))+gain*other[k])
	}
}

// darkerThan tells which parts of a field are darker than another's by more than a slope,
// and by what share the others differ: nebulae do, where the two point elsewhere. Of the other's
// light only what its lit parts have counts, as a cover hides the sky: what is brighter
// may have moved on, as a comet's tail and a reflection do.
func darkerThan(own, other []float64) (dark []bool, unlike float64) {
	ratio := make([]float64, len(own)) // its logarithm: slopes divide by slopes
	for k := range own {
		ratio[k] = math.Log(max(own[k], 1e-3) / other[k])
	}
	slope := slopeOf(ratio)
	slope.A = min(0, slope.A) // where the other is covered, its lit parts are not the brightest
	dark = make([]bool, len(own))
	var rest []float64
	for k, r := range ratio {
		at := slope.At(partAt(k))
		dark[k] = r+math.Log(max(1, other[k]))-min(0, max(at, math.Log(slopeMost))) < math.Log(unlitSky)
		if !dark[k] && !math.IsNaN(r) {
			rest = append(rest, r-at)
		}
	}
	return dark, stats.MADSigma(rest)
}

// slopeOf is the slope of a picture of parts by the middle of all steps from one to the
// next, few of which lie across an edge, at the level of the lit ones.
func slopeOf(ratio []float64) stats.Plane {
	const side = stars.SkyParts
	var right, up, level []float64
	note := func(to *[]float64, v float64) {
		if !math.IsNaN(v) {
			*to = append(*to, v)
		}
	}
	for k, r := range ratio {
		if k%side > 0 {
			note(&right, r-ratio[k-1])
		}
		if k >= side {
			note(&up, r-ratio[k-side])
		}
	}
	p := stats.Plane{B: side * stats.Median(right), C: side * stats.Median(up)}
	for k, r := range ratio {
		note(&level, r-p.At(partAt(k)))
	}
	p.A = stats.Quantile(level, litLevel)
	return p
}

// partAt is where the middle of a part lies, from -1/2 to 1/2 over the field.
func partAt(k int) (u, v float64) {
	const side = stars.SkyParts
	return (float64(k%side)+0.5)/side - 0.5, (float64(k/side)+0.5)/side - 0.5
}

// litSky is a field's sky by part over that of its lit parts, and the level of these.
func litSky(f *stars.Field) (sky []float64, lit float64) {
	var known []float64
	for _, v := range f.SkyParts {
		if !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	if len(known) < stars.SkyParts*stars.SkyParts/4 {
		return nil, math.NaN()
	}
	lit = stats.Quantile(known, litLevel)
	for _, v := range f.SkyParts {
		sky = append(sky, v/lit)
	}
	return sky, lit
}

// tied tells whether stars tell how two fields lie on each other.
func (z *zeroPoints) tied(i, j int) bool { return z.al[i].Matched() && z.al[j].Matched() }

// pointsLike tells whether two tied fields show the same sky on the same pixels, but for
// a dither.
func (z *zeroPoints) pointsLike(i, j int) bool {
	a, b, f := &z.al[i], &z.al[j], z.fields[j]
	if a.Flipped != b.Flipped {
		return false
	}
	return math.Hypot(a.ShiftX.V-b.ShiftX.V, a.ShiftY.V-b.ShiftY.V) < peersApart*float64(f.Width)
}
