package worth

import (
	"math"

	"fitsqa/internal/stats"
)

// brighter is by how much the brightest cell of a zone stands above the plane of the sky
// beside it, 0 when it is none with neighbours, and the noise of a cell.
func (s *Seen) brighter(z zone) (height, noise float64) {
	inside := s.within(z, innerZone)
	above := s.aboveSky(func(u, v float64) bool {
		x, y := z.off(u, v)
		return max(x, y) >= innerZone && max(x, y) < outerZone
	})
	if above == nil || len(inside) < 3 {
		return 0, 0
	}
	mean := meanOf(above)
	noise = noiseOfMean(above, mean, inside)
	if top := s.brightest(mean, inside, noise); top >= 0 {
		height = mean[top]
	}
	return height, noise
}

// aboveSky are the levels of every sub above the plane through some cells, of which
// those far off it are left out; nil when they are too few.
func (s *Seen) aboveSky(sky func(u, v float64) bool) [][]float64 {
	var cells []int
	for c := range s.maps[0].levels {
		if sky(s.share(c)) {
			cells = append(cells, c)
		}
	}
	if len(cells) < fewestSky {
		return nil
	}
	var all [][]float64
	for _, m := range s.maps {
		var p stats.Plane
		limit := math.Inf(1)
		for range 4 {
			var sums stats.PlaneSums
			for _, c := range cells {
				if u, v := s.share(c); math.Abs(m.levels[c]-p.At(u, v)) <= limit {
					sums.Add(u, v, m.levels[c])
				}
			}
			p = sums.Solve()
			var off []float64
			for _, c := range cells {
				u, v := s.share(c)
				off = append(off, m.levels[c]-p.At(u, v))
			}
			limit = 3 * stats.MADSigma(off)
		}
		rest := make([]float64, len(m.levels))
		for c, v := range m.levels {
			rest[c] = v - p.At(s.share(c))
		}
		all = append(all, rest)
	}
	return all
}

// fewestSky is how many cells it takes to tell the sky beside a zone.
const fewestSky = 8

// noiseOfMean is that of a cell of the mean map, by how cells scatter from sub to sub.
func noiseOfMean(above [][]float64, mean []float64, cells []int) float64 {
	var all []float64
	for _, c := range cells {
		v := 0.0
		for _, rest := range above {
			v += (rest[c] - mean[c]) * (rest[c] - mean[c])
		}
		all = append(all, v)
	}
	n := float64(len(above))
	return math.Sqrt(stats.Median(all) / (n - 1) / n)
}

// brightest is the highest of the cells that is no chance; -1 when there is none.
func (s *Seen) brightest(mean []float64, cells []int, noise float64) int {
	best := -1
	for _, c := range cells {
		v := mean[c]
		if v < patchSigma*noise || best >= 0 && v <= mean[best] {
			continue
		}
		beside := 0
		for _, k := range s.neighbours(c) {
			if mean[k] > v/4 && mean[k] > patchSigma/2*noise {
				beside++
			}
		}
		if beside >= 2 {
			best = c
		}
	}
	return best
}
