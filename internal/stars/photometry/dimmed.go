package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Where the offset is not taken off, no ratio tells how dark a part is. By how much its
// level lies under that of the same part in the other fields still does tell where an
// edge runs; whether a cover makes it, the stars do, a few of which are enough: all
// beyond the edge are gone.
const dimSteps = 2. // times unlitSure, by which the dim parts lie under the lit ones at least

// dimParts are those beyond an edge in the level that a field has and others have not.
func (z *zeroPoints) dimParts(j int) []bool {
	f := z.fields[j]
	if len(f.SkyParts) == 0 {
		return nil
	}
	return z.voted(j, len(f.SkyParts), goneShare, func(i int) []bool {
		o := z.fields[i]
		if !z.showsLevel(i, j) {
			return nil
		}
		step := make([]float64, len(f.SkyParts))
		for k := range step {
			step[k] = f.SkyParts[k] - o.SkyParts[k]
		}
		return beyondEdge(step, dimSteps*unlitSure*math.Hypot(levelErr(f), levelErr(o)))
	})
}

// showsLevel tells whether what is under the level of field i at the same pixels is lost in field j,
// offset or not: both show the same sky for as long.
func (z *zeroPoints) showsLevel(i, j int) bool {
	return z.tied(i, j) && z.pointsLike(i, j) && z.scaleOf(i) == z.scaleOf(j) && len(z.fields[i].SkyParts) > 0
}

// beyondEdge are the parts nearer to the lowest level than to that of the lit ones, where
// these are as far apart as least; none otherwise.
func beyondEdge(level []float64, least float64) []bool {
	slope := slopeOf(level)
	var under []float64
	rest := make([]float64, len(level))
	for k, v := range level {
		rest[k] = v - slope.At(partAt(k))
		if !math.IsNaN(v) {
			under = append(under, rest[k])
		}
	}
	dim := make([]bool, len(level))
	if lowest := stats.Quantile(under, dimLowest); lowest < -least {
		for k, v := range rest {
			dim[k] = v < lowest/2
		}
	}
	return dim
}

// dimLowest is the quantile of the parts that is the level of the dim ones.
const dimLowest = 0.1

// gone tells whether the stars that must be in some parts are missing there together: those,
// too, that most fields lack, where these are covered as well.
func (z *zeroPoints) gone(j int, parts []bool) bool {
	if len(parts) == 0 {
		return false
	}
	var there []*dueStar
	for _, d := range slices.Concat(z.dues[j], z.lacked[j]) {
		if parts[stars.PartOf(d.x, d.y, z.fields[j].Width, z.fields[j].Height, stars.SkyParts)] {
			there = append(there, d)
		}
	}
	missing, n := goneOf(there), float64(len(there)) // what to expect of them, fields that are covered as well tell
	return missing >= mostGone*n && missing > 1 && z.beyondChance(j, there, lostLeast*n)
}
