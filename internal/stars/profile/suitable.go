package profile

import (
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
)

// suitable picks stars for fitting, brightest first but spread over the field:
// unsaturated, single, of good signal and away from the edge. When the field is
// too sparse the demands are lowered step by step.
func suitable(p *plane.Plane, list []stars.Star, s detect.Seeing, most, fewest int) []int {
	margin := stampRadius(s) * 0.7
	order := stars.Brightest(list)
	var out []int
	for _, try := range []struct {
		snr    float64
		blends bool
	}{{30, false}, {15, false}, {15, true}, {6, true}} {
		out = spread(p, list, order, most, func(st *stars.Star) bool {
			return !st.Saturated && !(st.SNR < try.snr) && (!st.Blended || try.blends) &&
				!(st.X < margin || st.Y < margin || st.X > float64(p.W-1)-margin || st.Y > float64(p.H-1)-margin) &&
				!(st.Peak+p.Mesh.LevelAt(st.X, st.Y) > 0.9*p.Saturation)
		})
		if len(out) >= fewest {
			break
		}
	}
	// The best first: the exponent is found on them.
	slices.SortStableFunc(out, func(a, b int) int {
		switch {
		case list[a].SNR > list[b].SNR:
			return -1
		case list[a].SNR < list[b].SNR:
			return 1
		}
		return 0
	})
	return out
}

// spread takes up to so many stars that fit, in order but each cell of the field its share
// before any has more.
func spread(p *plane.Plane, list []stars.Star, order []int, most int, fits func(*stars.Star) bool) []int {
	const side = 5
	var cells [side * side]int
	var first, rest []int
	quota := max(1, most/(side*side))
	for _, i := range order {
		st := &list[i]
		if !fits(st) {
			continue
		}
		c := int(st.Y)*side/p.H*side + int(st.X)*side/p.W
		if cells[c] < quota {
			cells[c]++
			first = append(first, i)
		} else {
			rest = append(rest, i)
		}
		if len(first) == most {
			break
		}
	}
	return append(first, rest[:min(len(rest), most-len(first))]...)
}
