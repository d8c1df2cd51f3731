package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A jump in the middle of an exposure, or a dither that had not settled when it
// began, leaves every star twice, each image as round as ever. What gives it away
// is one offset and one share of the light that the bright stars have in common;
// pairs of the sky have neither.

const (
	doubleRadius = 60.0 // px, largest jump looked for
	doubleBin    = 1.5  // px, half the side of the square in which the offsets have to agree
	doubleBright = 200  // brightest stars that are asked
	doubleFewest = 6    // of them that must have a companion
	doubleSpread = 0.35 // most that ln of the companions' share scatters
	doubleShare  = 0.6  // least share of the stars bright enough that have their companion
	doubleTight  = 0.15 // scatter of the companions' share under which no chance makes them: where
	doubleSome   = 0.25 // so many in each part, and
	doubleHalf   = 0.45 // so many of all have them; knots of nebulae among the stars have none
	leastDouble  = 0.02 // least share of a brighter star that is a second image: less spoils nothing
	// A companion is surely seen from companionSure times the usual error of a flux on, and
	// as a rule from companionLeast on, a little above the threshold of 5.
	companionSure, companionLeast = 10.0, 6.0
	doubleSparse                  = 4 // stars that tell it where they are too few for two in a part
	doubleParts                   = 2 // parts of the field along each side, most of which must show it
)

// companion is a fainter star beside a brighter one.
type companion struct {
	of, star int // numbers in the list, of the brighter and the fainter
	x, y     float64
	ratio    float64 // of the fainter one's light to the brighter one's
}

// Doubled tells whether a field's stars are all there twice: the offset of the
// fainter images from the brighter ones, the share of the light in them (0 where
// nothing of the kind stands out), and the numbers of the fainter images in the
// list, rising. list is sorted, brightest first.
func Doubled(list []stars.Star, w, h int) (d stars.Double, second []int) {
	asked := askedForDoubles(list)
	if len(asked) < 2*doubleFewest {
		return stars.Double{Share: stats.Missing(stars.FewForDoubles)}, nil
	}
	none := stars.Double{Share: stats.Known(0, 0, len(asked))}
	same := commonOffset(companions(list, asked))
	if len(same) < doubleFewest {
		return none, nil
	}
	x, y, ratio := medians(same)
	var apart []float64
	for _, c := range same {
		apart = append(apart, math.Log(c.ratio/ratio))
	}
	scatter := stats.MADSigma(apart)
	part, all := doubleShare, doubleShare
	if scatter < doubleTight {
		part, all = doubleSome, doubleHalf
	}
	if scatter > doubleSpread || !everywhere(list, asked, same, ratio, w, h, part, all) {
		return none, nil
	}
	for i := range list {
		if isSecond(list, i, x, y, ratio) {
			second = append(second, i)
		}
	}
	n := float64(len(same))
	share := ratio / (1 + ratio)
	return stars.Double{X: x, Y: y, Share: stats.Known(share, share*(1-share)*stats.MedianErr*scatter/math.Sqrt(n), len(same))}, second
}

// askedForDoubles are the brightest stars by their numbers; among them knots only where others
// are few: what is beside a knot is as much of the nebula or galaxy as of its second image.
func askedForDoubles(list []stars.Star) (asked []int) {
	for i := range list {
		if !list[i].Knot && len(asked) < doubleBright {
			asked = append(asked, i)
		}
	}
	if len(asked) >= 2*doubleFewest {
		return asked
	}
	asked = asked[:0]
	for i := range min(len(list), doubleBright) {
		asked = append(asked, i)
	}
	return asked
}

// companions lists the fainter stars within doubleRadius of those asked. Of two
// about alike either may be the first.
func companions(list []stars.Star, asked []int) []companion {
	near := stars.NewNeighbours(list)
	var out []companion
	for _, i := range asked {
		p := &list[i]
		near.Within(p.X, p.Y, doubleRadius, func(j int) {
			if ratio := list[j].Flux / p.Flux; j != i && ratio > leastDouble && ratio < 1.25 {
				out = append(out, companion{i, j, list[j].X - p.X, list[j].Y - p.Y, ratio})
			}
		})
	}
	return out
}

// commonOffset gives those companions that share the most frequent offset, by
// Poisson's law beyond chance.
func commonOffset(all []companion) []companion {
	slices.SortStableFunc(all, func(a, b companion) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	var best []companion
	from := 0
	var same []companion
	for _, c := range all {
		for all[from].x < c.x-doubleBin {
			from++
		}
		same = same[:0]
		for k := from; k < len(all) && all[k].x <= c.x+doubleBin; k++ {
			if math.Abs(all[k].y-c.y) <= doubleBin {
				same = append(same, all[k])
			}
		}
		if len(same) > len(best) {
			best = slices.Clone(same)
		}
	}
	places := math.Pi * doubleRadius * doubleRadius / (4 * doubleBin * doubleBin)
	chance := float64(len(all)) / places
	if stats.PoissonTail(len(best), chance)*places > 1e-4 {
		return nil
	}
	return best
}

func medians(same []companion) (x, y, ratio float64) {
	var xs, ys, ratios []float64
	for _, c := range same {
		xs, ys, ratios = append(xs, c.x), append(ys, c.y), append(ratios, c.ratio)
	}
	return stats.Median(xs), stats.Median(ys), stats.Median(ratios)
}

// everywhere tells whether more than a share of the stars have their companion that are
// bright enough for it to be seen, in most parts of the field and in all of it: the knots
// along a satellite's track or a bright star's spike are in one. Few stars are so bright, and
// one that another hides leaves a part without: those whose companion is just above the
// threshold of detection tell it as well.
func everywhere(list []stars.Star, asked []int, same []companion, ratio float64, w, h int, inPart, inAll float64) bool {
	for _, sure := range []float64{companionSure, companionLeast} {
		if want, have := wanted(list, asked, same, sure/ratio, w, h); want.told() && have.beyond(&want, inPart, inAll) {
			return true
		}
	}
	return false
}

// byPart counts stars in each part of the field.
type byPart [doubleParts * doubleParts]float64

// wanted counts the stars that stand out by so many times the usual error of a flux and
// are no companion, and those of them that have one.
func wanted(list []stars.Star, asked []int, same []companion, sure float64, w, h int) (want, have byPart) {
	var faint []float64
	for i := range list {
		faint = append(faint, list[i].FluxErr)
	}
	seen := sure * stats.Median(faint)
	has, second := map[int]bool{}, map[int]bool{}
	for _, c := range same {
		has[c.of], second[c.star] = true, true
	}
	for _, i := range asked {
		if st := &list[i]; st.Flux > seen && !second[i] {
			part := stars.PartOf(st.X, st.Y, w, h, doubleParts)
			want[part]++
			if has[i] {
				have[part]++
			}
		}
	}
	return want, have
}

// told tells whether two parts or more have stars enough to tell anything, or, where a
// field has hardly a star to each, three have some.
func (n *byPart) told() bool {
	pairs, some, all := 0, 0, 0.0
	for _, v := range n {
		if v >= 2 {
			pairs++
		}
		if v >= 1 {
			some++
		}
		all += v
	}
	return pairs >= 2 || some >= 3 && all >= doubleSparse
}

// beyond tells whether these are more than a share of all the others, in most parts of
// the field that have enough of those and in all of it.
func (n *byPart) beyond(of *byPart, inPart, inAll float64) bool {
	parts, shown := 0, 0
	var all, found float64
	for k := range of {
		all, found = all+of[k], found+n[k]
		if of[k] < 2 {
			continue
		}
		parts++
		if n[k] > inPart*of[k] {
			shown++
		}
	}
	return 4*shown >= 3*parts && found > inAll*all
}

// isSecond tells whether star i is the fainter image of a brighter star.
func isSecond(list []stars.Star, i int, x, y, ratio float64) bool {
	s := &list[i]
	for j := range list {
		o := &list[j]
		if j != i && math.Abs(s.X-o.X-x) < doubleBin && math.Abs(s.Y-o.Y-y) < doubleBin &&
			s.Flux < 1.25*o.Flux && s.Flux < 2*ratio*o.Flux {
			return true
		}
	}
	return false
}
