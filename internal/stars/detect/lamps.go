package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The lights on an aircraft's wings draw lines; its lamps flash at places of a line that
// runs along with these, beside or between them, and look like stars as broad as it is
// out of focus. Lamps are images in a row along a track, more of them than chance puts
// there.
const (
	lampsHalf   = 2.0  // px either side of a row: centres, and a degree's tenth over the frame
	lampsBeside = 10.0 // times that, over which the images around tell how many chance puts there
	lampsLuck   = 1e-3 // probability that any row of a track is chance
	lampsFewest = 4
)

// withoutLamps takes off a list of the stars of a field w px wide and h px high those that
// stand in a row along one of its tracks.
func withoutLamps(list []stars.Star, tracks []stars.Streak, w, h int) []stars.Star {
	for _, t := range tracks {
		length := math.Hypot(t.X1-t.X0, t.Y1-t.Y0)
		ux, uy := (t.X1-t.X0)/length, (t.Y1-t.Y0)/length
		span := math.Abs(ux)*float64(h) + math.Abs(uy)*float64(w)
		off := make([]float64, len(list)) // px from the track
		for i := range list {
			off[i] = (list[i].Y-t.Y0)*ux - (list[i].X-t.X0)*uy
		}
		in := inRow(off, span)
		k := -1
		list = slices.DeleteFunc(list, func(stars.Star) bool { k++; return in[k] })
	}
	return list
}

// inRow tells which of some images stand in rows, given how far each is from a line of the
// rows' direction, px, and how far the field reaches across it.
func inRow(off []float64, span float64) []bool {
	in := make([]bool, len(off))
	sorted := slices.Sorted(slices.Values(off))
	within := func(x, reach float64) int {
		from, _ := slices.BinarySearch(sorted, x-reach)
		to, _ := slices.BinarySearch(sorted, x+reach)
		return to - from
	}
	for _, x := range off {
		row, near := within(x, lampsHalf), within(x, lampsBeside*lampsHalf)
		if row < lampsFewest {
			continue
		}
		usual := max(float64(len(off)-row)*2*lampsHalf/span, float64(near-row)/(lampsBeside-1))
		if float64(len(off))*stats.PoissonTail(row-1, usual) > lampsLuck { // any image is in a row of one
			continue
		}
		for i := range off {
			in[i] = in[i] || math.Abs(off[i]-x) < lampsHalf
		}
	}
	return in
}
