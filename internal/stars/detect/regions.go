package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// region is the part of a star image above half its peak.
type region struct {
	area       int
	cx, cy     float64
	xx, xy, yy float64 // second moments of the area, px²
	hollow     bool
	fades      bool // its surroundings are lit too: no track of a charged particle
}

// across is the diameter of a disc as large as the region, px.
func (g *region) across() float64 { return 2 * math.Sqrt(float64(g.area)/math.Pi) }

const (
	blockShift  = 5                 // thresholds are constant over 32 px of a row
	regionSide  = 129               // px, window in which a region may grow
	trackMost   = 60                // px, longest track of a particle
	wellSampled = 2.5               // px across half the height, from which the pixels around are lit too
	regionMax   = 80 * 80 * 22 / 28 // px, largest region: 80 px across
)

// noiseBlocks gives factor times the local noise for each block of 32 px of a
// picture summed over bin x bin px: rows of blocks follow one another every 32 rows.
func noiseBlocks(p *plane.Plane, bin int, factor float64) []float32 {
	w, h := p.W/bin, p.H/bin
	cols, rows := (w>>blockShift)+1, (h>>blockShift)+1
	out := make([]float32, cols*rows)
	half := float64(int(1)<<blockShift) / 2
	for j := range rows {
		for i := range cols {
			x := (float64(i<<blockShift) + half) * float64(bin)
			y := (float64(j<<blockShift) + half) * float64(bin)
			out[j*cols+i] = float32(factor * p.Mesh.NoiseAt(min(x, float64(p.W-1)), min(y, float64(p.H-1))))
		}
	}
	return out
}

// binned sums the residual over n x n px.
func binned(p *plane.Plane, n int) ([]float32, int, int) {
	w, h := p.W/n, p.H/n
	out := make([]float32, w*h)
	for y := range h * n {
		src, dst := p.R[y*p.W:], out[(y/n)*w:(y/n)*w+w]
		for x := range dst {
			var s float32
			for _, v := range src[x*n : x*n+n] {
				s += v
			}
			dst[x] += s
		}
	}
	return out, w, h
}

type peak struct {
	at int
	v  float32
}

// enoughPeaks is how many peaks make a look at the rest of a frame needless.
const enoughPeaks = 500

// localMaxima finds pixels above the threshold of their block that no neighbour
// exceeds. It goes over the frame in four passes of every fourth band of
// blocks, and ends with the pass that has found enough. p, when given, tells where high
// pixels are.
func localMaxima(r []float32, w, h int, threshold []float32, p *plane.Plane) []peak {
	var out []peak
	cols := (w >> blockShift) + 1
	need := make([]float32, w) // of every pixel of a band
	for pass := 0; pass < 4 && len(out) < enoughPeaks; pass++ {
		for band := pass; band<<blockShift < h-1; band += 4 {
			for x := range need {
				need[x] = threshold[band*cols+x>>blockShift]
			}
			least := slices.Min(need)
			for y := max(1, band<<blockShift); y < min((band+1)<<blockShift, h-1); y++ {
				look := func(from, to int) {
					for x := max(from, 1); x < min(to, w-1); x++ {
						x += stats.NextReaching(r[y*w+x:y*w+min(to, w-1)], need[x:])
						if i := y*w + x; x < min(to, w-1) && r[i] > need[x] && isTop(r, w, i, r[i]) {
							out = append(out, peak{i, r[i]})
						}
					}
				}
				if p != nil {
					p.EachHigh(y, least, look)
				} else {
					look(0, w)
				}
			}
		}
	}
	return out
}

// isTop breaks ties by order, so that a plateau has one top.
func isTop(r []float32, w, i int, v float32) bool {
	return v >= r[i+1] && v > r[i-1] &&
		v >= r[i+w-1] && v >= r[i+w] && v >= r[i+w+1] &&
		v > r[i-w-1] && v > r[i-w] && v > r[i-w+1]
}

// halfRegions measures the regions of up to 100 of the brightest peaks. p, when
// given, tells which peaks are saturated.
func halfRegions(r []float32, w, h int, threshold []float32, saturation float64, p *plane.Plane) []region {
	peaks := localMaxima(r, w, h, threshold, p)
	slices.SortFunc(peaks, func(a, b peak) int {
		if a.v != b.v {
			if a.v > b.v {
				return -1
			}
			return 1
		}
		return a.at - b.at
	})
	var out []region
	g := grower{r: r, w: w, h: h}
	for k, pk := range peaks {
		if k == 3000 || len(out) == 100 {
			break
		}
		x, y := pk.at%w, pk.at/w
		if p != nil && p.LevelOf(x, y) > 0.9*saturation {
			continue
		}
		if p != nil && p.Green >= 0 && alone(p, x, y) || aroundPeak(r, w, pk.at) < 0.09*pk.v {
			continue // all in one pixel: no optics makes that
		}
		if reg, ok := g.grow(x, y, pk.v/2); ok {
			out = append(out, reg)
		}
	}
	return out
}

// aroundPeak is the mean of the eight neighbours.
func aroundPeak(r []float32, w, i int) float32 {
	return (r[i-1] + r[i+1] + r[i-w-1] + r[i-w] + r[i-w+1] + r[i+w-1] + r[i+w] + r[i+w+1]) / 8
}

// alone tells whether a pixel of a mosaic shines while the green ones nearest to it
// do not: what is filled in between would make a star of it. These hold no less than
// a twelfth each of the light of stars of 1.1 px.
func alone(p *plane.Plane, x, y int) bool {
	if !p.Measured(x, y) {
		return false
	}
	at := func(dx, dy int) float32 { return p.R[min(max(y+dy, 0), p.H-1)*p.W+min(max(x+dx, 0), p.W-1)] }
	beside := (at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1)) / 4
	return beside < 0.04*at(0, 0)
}

// grower follows connected pixels above a level.
type grower struct {
	r     []float32
	w, h  int
	seen  [regionSide * regionSide]bool
	stack []int32
}

// grow collects the pixels connected with x,y (by eight) that are above cut. It
// gives up at the frame's edge, at pixels brighter than the first (another,
// brighter star) and when the region grows too large for a star.
func (g *grower) grow(x, y int, cut float32) (region, bool) {
	clear(g.seen[:])
	top := g.r[y*g.w+x]
	const c = regionSide / 2
	g.stack = append(g.stack[:0], c*regionSide+c)
	g.seen[c*regionSide+c] = true
	var m moments
	var rim int
	var beyond float64
	for len(g.stack) > 0 {
		k := int(g.stack[len(g.stack)-1])
		g.stack = g.stack[:len(g.stack)-1]
		dx, dy := k%regionSide-c, k/regionSide-c
		px, py := x+dx, y+dy
		if px <= 0 || py <= 0 || px >= g.w-1 || py >= g.h-1 || dx <= -c || dx >= c || dy <= -c || dy >= c {
			return region{}, false
		}
		v := g.r[py*g.w+px]
		if v > top || m.n > regionMax {
			return region{}, false
		}
		m.add(float64(dx), float64(dy), float64(v))
		for j := -1; j <= 1; j++ {
			for i := -1; i <= 1; i++ {
				o := k + j*regionSide + i
				if g.seen[o] {
					continue
				}
				g.seen[o] = true
				if v := g.r[(py+j)*g.w+px+i]; v > cut {
					g.stack = append(g.stack, int32(o))
				} else {
					rim++
					beyond += float64(v)
				}
			}
		}
	}
	reg := m.region(x, y)
	reg.fades = beyond > 0.12*float64(rim)*float64(top) || m.n > trackMost
	reg.hollow = m.n > 30 && g.middle(&reg) < 0.8*m.light/float64(m.n)
	return reg, true
}

// moments are sums over the pixels of a region, by their places from its top.
type moments struct {
	n                       int
	x, y, xx, xy, yy, light float64
}

func (m *moments) add(x, y, light float64) {
	m.n++
	m.x += x
	m.y += y
	m.xx += x * x
	m.xy += x * y
	m.yy += y * y
	m.light += light
}

// region of the sums, whose top is at a pixel of the frame.
func (m *moments) region(x, y int) region {
	n := float64(m.n)
	mx, my := m.x/n, m.y/n
	return region{area: m.n, cx: float64(x) + mx, cy: float64(y) + my, xx: m.xx/n - mx*mx, xy: m.xy/n - mx*my, yy: m.yy/n - my*my}
}

// middle is the light of the pixels around a region's centre, the mean of nine.
func (g *grower) middle(reg *region) (light float64) {
	cx, cy := int(math.Round(reg.cx)), int(math.Round(reg.cy))
	for j := -1; j <= 1; j++ {
		for i := -1; i <= 1; i++ {
			light += float64(g.r[min(max(cy+j, 0), g.h-1)*g.w+min(max(cx+i, 0), g.w-1)]) / 9
		}
	}
	return light
}
