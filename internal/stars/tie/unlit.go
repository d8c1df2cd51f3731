package tie

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A roof or a tree hides the sky as well as the stars: where there are too few stars
// to miss any, the sky tells. Its level over the field is held, part by part,
// against that of the other fields that point the same way, so that vignetting and
// nebulae cancel, and a slope that Moon or town make is no edge. What is lit as
// bright as the sky, and frost, only stars tell.
const (
	unlitSky   = 0.75 // of the sky of the lit parts, under which a part is dark
	unlitSure  = 5    // standard errors by which it has to be darker
	unlitLeast = 4.   // parts that are dark together before they count: 6 % of the field
	unlitPeers = 2    // other fields that tell what the sky is like
	peersApart = 0.1  // of the field's width, that they may point elsewhere
	unlitErr   = 0.02 // of the share of the field: what is dark ends somewhere within a part
	levelFrom  = 500  // pixels behind the level of a part at least
)

// unlit is the share of a field whose sky is hidden.
func (z *zeroPoints) unlit(j int) float64 {
	f := z.fields[j]
	own, lit := litSky(f)
	if !(lit > 0) || !((1-unlitSky)*lit > unlitSure*f.Noise.V/math.Sqrt(levelFrom)) {
		return 0
	}
	dark := z.darkParts(j, own)
	var n, measured float64
	for k, d := range dark {
		if !math.IsNaN(own[k]) {
			measured++
			if d {
				n++
			}
		}
	}
	if n < unlitLeast || z.shine(j, dark) {
		return 0
	}
	return n / measured
}

// shine tells whether most of the stars that must be in the dark parts are there:
// then it is the sky alone that is darker. A few stand on the rim.
func (z *zeroPoints) shine(j int, dark []bool) bool {
	seen, all := 0, 0
	for _, d := range z.dues[j] {
		if dark[stars.PartOf(d.x, d.y, z.fields[j].Width, z.fields[j].Height, stars.SkyParts)] {
			if all++; d.seen != nil && z.residual(j, *d.seen) > math.Log(unlitSky) {
				seen++
			}
		}
	}
	return 2*seen > all
}

// darkParts are those that are darker than in the other fields.
func (z *zeroPoints) darkParts(j int, own []float64) []bool {
	var peers [][]float64
	for i, o := range z.fields {
		if i != j && o != nil && z.pointsLike(i, j) {
			if sky, lit := litSky(o); lit > 0 {
				peers = append(peers, sky)
			}
		}
	}
	dark := make([]bool, len(own))
	if len(peers) < unlitPeers {
		return dark
	}
	for k := range own {
		var sky []float64
		for _, p := range peers {
			if !math.IsNaN(p[k]) {
				sky = append(sky, p[k])
			}
		}
		if n := float64(len(sky)); n >= unlitPeers { // the next to the brightest of a few: one may be lit by what passed
			dark[k] = own[k] < unlitSky*stats.Quantile(sky, math.Min(0.75, (n-2)/(n-1)))
		}
	}
	return dark
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
	lit = stats.Quantile(known, 0.8)
	for _, v := range f.SkyParts {
		sky = append(sky, v/lit)
	}
	return sky, lit
}

// pointsLike tells whether two fields show the same sky on the same pixels, but for
// a dither.
func (z *zeroPoints) pointsLike(i, j int) bool {
	a, b, f := &z.al[i], &z.al[j], z.fields[j]
	if !a.Matched() || !b.Matched() || a.Flipped != b.Flipped {
		return false
	}
	return math.Hypot(a.ShiftX.V-b.ShiftX.V, a.ShiftY.V-b.ShiftY.V) < peersApart*float64(f.Width)
}
