package dust

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Dust is looked for on cells a few pixels wide. A shadow is a patch of cells
// that lie deeper under their surroundings than noise reaches and than
// minDepth.
const (
	dustCells = 400   // cells across the longer side, at most
	dustSigma = 5     // of the cells' own scatter
	minDepth  = 0.003 // of the light
	minCells  = 4     // cells in a shadow
)

// Shadow is a dust shadow in a flat.
type Shadow struct {
	X, Y     float64 // px, centre
	Diameter float64 // px, of a disc of the same area
	DepthPct float64 // light lost at its darkest, %
}

// CellStep is how many pixels wide the cells of a flat of that size are to be
// for Shadows.
func CellStep(width, height int) int {
	step := max(2, (max(width, height)+dustCells-1)/dustCells)
	return step + step%2
}

// Shadows finds the shadows of a flat, given as the means of its cells. It is
// false where the flat is too small.
func Shadows(m stats.Map) ([]Shadow, bool) {
	if m.Width < 32 || m.Height < 32 {
		return nil, false
	}
	depth := shadowDepth(m)
	sigma := stats.MADSigma(depth)
	return findShadows(m, depth, max(dustSigma*sigma, minDepth)), true
}

// shadowDepth is how far each cell lies under the light around it, as a
// fraction: the surroundings are the median of cells on a ring wide enough to
// reach out of any shadow.
func shadowDepth(m stats.Map) []float64 {
	radius := max(6, max(m.Width, m.Height)/12)
	depth := make([]float64, len(m.Values))
	const spokes = 16
	ring := make([]float64, 0, 2*spokes)
	for j := range m.Height {
		for i := range m.Width {
			ring = ring[:0]
			// Opposite points are averaged, so that a slope of the light cancels.
			for s := range spokes / 2 {
				sin, cos := math.Sincos(2 * math.Pi * float64(s) / spokes)
				for _, r := range []float64{float64(radius), 0.7 * float64(radius)} {
					dx, dy := int(math.Round(r*cos)), int(math.Round(r*sin))
					if !m.Inside(i+dx, j+dy) || !m.Inside(i-dx, j-dy) {
						continue
					}
					ring = append(ring, (m.At(i+dx, j+dy)+m.At(i-dx, j-dy))/2)
				}
			}
			if len(ring) < 3 {
				continue // a corner: nothing to compare with
			}
			around := stats.MedianInPlace(ring)
			depth[j*m.Width+i] = 1 - m.At(i, j)/around
		}
	}
	// The falloff's curvature leaves a broad residue: its running median over
	// the map is taken off by the median of all.
	centre := stats.Median(depth)
	for i := range depth {
		depth[i] -= centre
	}
	return depth
}

// findShadows joins cells deeper than limit into shadows, cells up to two
// apart counting as neighbours: a defocused speck is a ring, not a disc.
func findShadows(m stats.Map, depth []float64, limit float64) []Shadow {
	seen := make([]bool, len(depth))
	var shadows []Shadow
	for start, d := range depth {
		if seen[start] || d < limit {
			continue
		}
		var sx, sy, n, deepest float64
		pending := []int{start}
		seen[start] = true
		minX, maxX, minY, maxY := m.Width, -1, m.Height, -1
		for len(pending) > 0 {
			c := pending[len(pending)-1]
			pending = pending[:len(pending)-1]
			x, y := c%m.Width, c/m.Width
			sx += float64(x)
			sy += float64(y)
			n++
			deepest = max(deepest, depth[c])
			minX, maxX, minY, maxY = min(minX, x), max(maxX, x), min(minY, y), max(maxY, y)
			for dy := -2; dy <= 2; dy++ {
				for dx := -2; dx <= 2; dx++ {
					if m.Inside(x+dx, y+dy) {
						if k := (y+dy)*m.Width + x + dx; !seen[k] && depth[k] >= limit {
							seen[k] = true
							pending = append(pending, k)
						}
					}
				}
			}
		}
		extent := float64(max(maxX-minX, maxY-minY) + 1)
		if n < minCells || extent > float64(m.Width)/6 {
			continue // noise, or the illumination itself
		}
		half := float64(m.Step-1) / 2
		shadows = append(shadows, Shadow{
			X: sx/n*float64(m.Step) + half, Y: sy/n*float64(m.Step) + half,
			Diameter: extent * float64(m.Step), DepthPct: 100 * deepest,
		})
	}
	slices.SortFunc(shadows, func(a, b Shadow) int { return cmp.Compare(b.DepthPct*b.Diameter, a.DepthPct*a.Diameter) })
	return shadows
}
