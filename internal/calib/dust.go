package calib

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

// measureShadows counts and places the dust shadows of a master flat.
func (f *flatRun) measureShadows(flat []float32, workers int) {
	width := f.group.Width
	height := len(flat) / width
	step := max(2, (max(width, height)+dustCells-1)/dustCells)
	step += step % 2
	m := cellMeans(flat, width, step, workers)
	if m.Width < 32 || m.Height < 32 {
		f.shadowN = stats.Missing("the frames are too small")
		return
	}
	depth := shadowDepth(m)
	sigma := stats.MADSigma(depth)
	f.detail.Shadows = findShadows(m, depth, max(dustSigma*sigma, minDepth))
	f.shadowN = stats.Known(float64(len(f.detail.Shadows)), math.NaN(), len(f.frames))
}

// cellMeans averages blocks of step by step pixels.
func cellMeans(pixels []float32, width, step, workers int) Map {
	height := len(pixels) / width
	m := Map{Width: width / step, Height: height / step, Step: step}
	m.Values = make([]float64, m.Width*m.Height)
	parallelItems(m.Height, workers, func(j int) {
		for i := range m.Width {
			var sum float64
			for y := j * step; y < (j+1)*step; y++ {
				for _, v := range pixels[y*width+i*step : y*width+(i+1)*step] {
					sum += float64(v)
				}
			}
			m.Values[j*m.Width+i] = sum / float64(step*step)
		}
	})
	return m
}

// shadowDepth is how far each cell lies under the light around it, as a
// fraction: the surroundings are the median of cells on a ring wide enough to
// reach out of any shadow.
func shadowDepth(m Map) []float64 {
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
					if !m.inside(i+dx, j+dy) || !m.inside(i-dx, j-dy) {
						continue
					}
					ring = append(ring, (m.at(i+dx, j+dy)+m.at(i-dx, j-dy))/2)
				}
			}
			if len(ring) < 3 {
				continue // a corner: nothing to compare with
			}
			around := stats.MedianInPlace(ring)
			depth[j*m.Width+i] = 1 - m.at(i, j)/around
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

func (m Map) inside(i, j int) bool { return i >= 0 && j >= 0 && i < m.Width && j < m.Height }

// findShadows joins cells deeper than limit into shadows, cells up to two
// apart counting as neighbours: a defocused speck is a ring, not a disc.
func findShadows(m Map, depth []float64, limit float64) []Shadow {
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
					if m.inside(x+dx, y+dy) {
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
