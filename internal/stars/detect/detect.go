package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// kernel is the matched filter: the expected image of a star, a Gaussian of the
// seeing's size and form, scaled so that the sum of its squares is 1. Its
// response to a picture of white noise of sd s has sd s, so response over noise
// is the significance (King 1983, PASP 95, 163).
type kernel struct {
	radius   int
	side     int
	g        []float32
	window   stats.Weights // g
	sum      float64       // of g
	spread   float64       // sum g² r² over sum g²: mean square radius of a star seen through the filter
	xx, xy   float64       // inverse covariance, px^-2
	yy       float64
	fwhm     float64
	matchedN float64 // noise-equivalent area, px
	placing  *kernel // the window under which centres are sought

	// See nextRow.
	row                   []float64
	dx, dy                float64
	top                   int     // place of the highest
	highest, right, up    float64 // its height, and that of the one to the right and above over it
	steepX, steepY, shear float64 // exp(-xx), exp(-yy), exp(-xy)
}

func newKernel(s Seeing) *kernel {
	det := s.Xx*s.Yy - s.Xy*s.Xy
	k := &kernel{xx: s.Yy / det, xy: -s.Xy / det, yy: s.Xx / det, fwhm: s.Fwhm}
	k.radius = max(2, int(math.Ceil(2.2*math.Sqrt(max(s.Xx, s.Yy)))))
	k.side = 2*k.radius + 1
	k.g = make([]float32, k.side*k.side)
	var sum, sum2, r2 float64
	for j := -k.radius; j <= k.radius; j++ {
		for i := -k.radius; i <= k.radius; i++ {
			x, y := float64(i), float64(j)
			v := k.at(x, y)
			k.g[(j+k.radius)*k.side+i+k.radius] = float32(v)
			sum += v
			sum2 += v * v
			r2 += v * v * (x*x + y*y)
		}
	}
	n := math.Sqrt(sum2)
	for i := range k.g {
		k.g[i] /= float32(n)
	}
	k.window = stats.NewWeights(k.side, k.g)
	k.row = make([]float64, k.side)
	k.steepX, k.steepY, k.shear = math.Exp(-k.xx), math.Exp(-k.yy), math.Exp(-k.xy)
	k.sum = sum / n
	k.spread = r2 / sum2
	k.matchedN = sum * sum / sum2
	k.placing = k
	if wider := leastWindow*leastWindow - s.Fwhm*s.Fwhm; wider > 0 {
		v := wider / (stars.SigmaToFWHM * stars.SigmaToFWHM)
		k.placing = newKernel(Seeing{Fwhm: leastWindow, Xx: s.Xx + v, Xy: s.Xy, Yy: s.Yy + v})
	}
	return k
}

// leastWindow is the FWHM, px, of the narrowest window under which a centre is sought:
// under one of 1 px the light of the middle pixel alone counts, and every star seems to
// stand in the middle of a pixel; under this one it is off by a tenth.
const leastWindow = 1.75

// at is the height of the filter, 1 in its middle.
func (k *kernel) at(dx, dy float64) float64 {
	return math.Exp(-(k.xx*dx*dx + 2*k.xy*dx*dy + k.yy*dy*dy) / 2)
}

// start makes nextRow give the height of the filter at n places of a row, from dx,dy on,
// 1 px apart, and then of the rows above.
func (k *kernel) start(dx, dy float64, n int) {
	k.dx, k.dy, k.row, k.top = dx, dy, k.row[:n], -1
}

// nextRow is the next row of heights, until the one after it is asked for. Outward from
// the highest of a row, each is the one before times a ratio, which itself falls by a
// constant factor; so do the highest and the ratios from row to row, as long as the
// highest is above that of the row before.
func (k *kernel) nextRow() []float64 {
	top := min(max(int(math.Round(-k.xy/k.xx*k.dy-k.dx)), 0), len(k.row)-1)
	if top != k.top || k.highest < 1e-100 { // what is too small for a number does not grow
		x := k.dx + float64(top)
		k.top, k.highest = top, k.at(x, k.dy)
		k.right = math.Exp(-k.xx*x - k.xy*k.dy - k.xx/2)
		k.up = math.Exp(-k.xy*x - k.yy*k.dy - k.yy/2)
	}
	row, steep := k.row, k.steepX
	row[top] = k.highest
	for i, v, ratio := top+1, k.highest, k.right; i < len(row); i++ {
		v *= ratio
		row[i] = v
		ratio *= steep
	}
	for i, v, ratio := top-1, k.highest, steep/k.right; i >= 0; i-- {
		v *= ratio
		row[i] = v
		ratio *= steep
	}
	k.highest, k.up, k.right, k.dy = k.highest*k.up, k.up*k.steepY, k.right*k.shear, k.dy+1
	return row
}

// response is the filter's at a pixel whose window lies inside the frame.
func (k *kernel) response(p *plane.Plane, x, y int) float32 {
	return k.window.Sum(p.R[(y-k.radius)*p.W+x-k.radius:], p.W)
}

// responseAt also serves pixels at the edge, by the part of the window inside.
func (k *kernel) responseAt(p *plane.Plane, x, y int) float32 {
	if x >= k.radius && y >= k.radius && x < p.W-k.radius && y < p.H-k.radius {
		return k.response(p, x, y)
	}
	var sum, norm float64
	for j := max(0, k.radius-y); j < min(k.side, p.H-y+k.radius); j++ {
		for i := max(0, k.radius-x); i < min(k.side, p.W-x+k.radius); i++ {
			g := float64(k.g[j*k.side+i])
			sum += g * float64(p.R[(y+j-k.radius)*p.W+x+i-k.radius])
			norm += g * g
		}
	}
	if norm < 0.5 {
		return 0 // less than half of a star would be inside
	}
	return float32(sum / math.Sqrt(norm))
}

// candidate is a place where the filter answers.
type candidate struct {
	x, y     int
	response float32
}

// search finds the local maxima of the filter's response above threshold times
// the local noise. The costly filter is only evaluated where a window of about a
// star's size stands out, and from there climbs to its maximum.
func search(p *plane.Plane, k *kernel, threshold float64) []candidate {
	white := 1.0
	if p.Green >= 0 {
		// Filled-in pixels repeat the noise of the green ones: sums over many
		// pixels have twice the variance of white noise.
		white = math.Sqrt2
	}
	limits := noiseBlocks(p, 1, threshold*white)
	cols := (p.W >> blockShift) + 1
	limit := func(x, y int) float32 { return limits[(y>>blockShift)*cols+x>>blockShift] }

	// What the filter must show at the middle of a window before it is worth the
	// climb; a window of two single pixels may have its middle a whole one off.
	least := float32(0.5)
	if k.fwhm < 2.2 {
		least = 0.25
	}
	var out []candidate
	standOut(p, k.fwhm, threshold*white, func(x, y int) {
		v := k.responseAt(p, x, y)
		if v < least*limit(x, y) {
			return
		}
		x, y, v = k.climb(p, x, y, v)
		if v >= limit(x, y) {
			out = append(out, candidate{x, y, v})
		}
	})
	slices.SortFunc(out, func(a, b candidate) int {
		if a.y != b.y {
			return a.y - b.y
		}
		return a.x - b.x
	})
	return slices.CompactFunc(out, func(a, b candidate) bool { return a.x == b.x && a.y == b.y })
}

// climb walks to the nearest local maximum of the response. Of the neighbours of a
// place those that it came by are no higher.
func (k *kernel) climb(p *plane.Plane, x, y int, v float32) (int, int, float32) {
	px, py := x-9, y
	for range 4 * k.side {
		bx, by := x, y
		for j := max(0, y-1); j <= min(p.H-1, y+1); j++ {
			for i := max(0, x-1); i <= min(p.W-1, x+1); i++ {
				if i == x && j == y || max(i-px, px-i, j-py, py-j) <= 1 {
					continue
				}
				if o := k.responseAt(p, i, j); o > v {
					v, bx, by = o, i, j
				}
			}
		}
		if bx == x && by == y {
			break
		}
		px, py, x, y = x, y, bx, by
	}
	return x, y, v
}
