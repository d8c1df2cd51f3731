package photometry

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The apertures of wide stars hold more of what optics and air scatter, and of what lies
// between the stars, than those of sharp ones: 3 to 12 % of the light in real fields. The
// fields of a group have that in common, and the sharper half of them tells by how much the
// light grows with the aperture: all is brought to theirs.

// growth is that of a group, by ln of the aperture over that of the sharper half.
type growth struct {
	aperture float64 // px; 0: unknown
	times    [1 + len(stars.GrowthTimes)]float64
	ln       [1 + len(stars.GrowthTimes)]stats.Value
}

// growthLeft is how much of it may be otherwise in wide fields, where images run into each other:
// so much was left in frames of a real Milky Way that were made wider.
const growthLeft = 0.2

// growthOf is what the fields have in common of it; none where they are too few to tell.
func growthOf(fields []*stars.Field) (g growth) {
	var told []*stars.Growth
	for _, f := range fields {
		if f != nil && f.Growth.Aperture > 0 {
			told = append(told, &f.Growth)
		}
	}
	slices.SortFunc(told, func(a, b *stars.Growth) int { return cmp.Compare(a.Aperture, b.Aperture) })
	told = told[:min(len(told), max(len(told)/2, fewestPooled))]
	for k, times := range stars.GrowthTimes {
		var ln []stats.Value
		for _, t := range told {
			ln = append(ln, t.Ln[k])
		}
		common := inCommon(ln)
		if math.IsInf(common.variance, 1) {
			return growth{}
		}
		g.times[k+1], g.ln[k+1] = math.Log(times), stats.Known(common.middle, math.Sqrt(common.variance), len(ln))
	}
	g.aperture = told[len(told)/2].Aperture
	return g
}

// at is by how much more light a field's aperture holds than theirs: on a line between
// those that were tried, the first of which goes on to narrower ones, and none beyond the last.
func (g *growth) at(f *stars.Field) stats.Value {
	if !(g.aperture > 0) || !(f.Growth.Aperture > 0) {
		return stats.Value{}
	}
	x := math.Log(f.Growth.Aperture / g.aperture)
	last := len(g.times) - 1
	x = min(max(x, -g.times[1]), g.times[last])
	k := 1
	for k < last && x > g.times[k] {
		k++
	}
	part := (x - g.times[k-1]) / (g.times[k] - g.times[k-1])
	line := func(a, b float64) float64 { return a + part*(b-a) }
	more := line(g.ln[k-1].V, g.ln[k].V)
	return stats.Known(more, math.Hypot(line(g.ln[k-1].Err, g.ln[k].Err), growthLeft*more), g.ln[k].N)
}
