package calib

import (
	"math"

	"fitsqa/internal/stats"
)

// pairBlock is the side of the blocks in which two flats are compared: small
// enough that illumination is even across it, large enough (1024 pixels) that
// its variance is known to 4.4 %.
const pairBlock = 32

// pairClip is where differences within a block are clipped, sigma: particle
// hits fall out, one good pixel in 16000 too.
const pairClip = 4

// flatPair is what two flats of about the same level tell.
type flatPair struct {
	signal   float64     // ADU above the offset, mean of the two
	variance float64     // ADU², of the light in one of them; NaN for copies of one frame
	gain     stats.Value // e-/ADU
}

// measurePair compares two flats (or one colour plane of them, stride 2 from
// x0, y0) block by block. In a block x and y differ by a factor r, and the
// variance of x - r y is that of the light in both, K mx (1+r), and of the
// read noise, v (1+r²): with r = 1 the two-flat-two-bias method (Howell,
// Handbook of CCD Astronomy, 2nd ed., section 4.3; the printed equation from
// memory), and free of fixed pattern and of a drift of the light.
func measurePair(x, y []uint16, width, stride, x0, y0 int, offset, readVariance, top float64, workers int) flatPair {
	height := len(x) / width
	w, h := (width-x0+stride-1)/stride, (height-y0+stride-1)/stride
	nx, ny := w/pairBlock, h/pairBlock
	none := flatPair{math.NaN(), math.NaN(), stats.Missing("the frames are too small or too dark")}
	if nx*ny < 4 {
		return none
	}
	type block struct {
		signal, light, variance float64
		differs                 bool
	}
	blocks := make([]block, nx*ny)
	parallelItems(ny, workers, func(j int) {
		d := make([]float64, 0, pairBlock*pairBlock)
		for i := range nx {
			var sx, sy float64
			at := func(k, l int) int {
				return (y0+(j*pairBlock+l)*stride)*width + x0 + (i*pairBlock+k)*stride
			}
			for l := range pairBlock {
				for k := range pairBlock {
					p := at(k, l)
					sx += float64(x[p])
					sy += float64(y[p])
				}
			}
			const n = pairBlock * pairBlock
			mx, my := sx/n-offset, sy/n-offset
			r := mx / my
			if !(mx > 0 && my > 0) || max(mx, my)+offset > top {
				blocks[j*nx+i].signal = math.NaN()
				continue
			}
			d = d[:0]
			for l := range pairBlock {
				p := at(0, l)
				for range pairBlock {
					d = append(d, float64(x[p])-r*float64(y[p]))
					p += stride
				}
			}
			v := clippedVariance(d)
			blocks[j*nx+i] = block{(mx + my) / 2, mx * (1 + r), v - readVariance*(1+r*r), v > 1e-9}
		}
	})
	var signals []float64
	for _, b := range blocks {
		if !math.IsNaN(b.signal) {
			signals = append(signals, b.signal)
		}
	}
	if len(signals) < 4 {
		return none
	}
	// Overscan, vignetted edges and holders hold no light worth comparing.
	dim := 0.2 * stats.Median(signals)
	var kept []block
	var ratios []float64
	for _, b := range blocks {
		if b.signal > dim {
			kept = append(kept, b)
			ratios = append(ratios, b.variance/b.light)
		}
	}
	centre, sigma := stats.Median(ratios), stats.MADSigma(ratios)
	var signal, light, variance, used float64
	copies := true
	for i, b := range kept {
		if math.Abs(ratios[i]-centre) <= 5*sigma {
			copies = copies && !b.differs
			signal += b.signal
			light += b.light
			variance += b.variance
			used++
		}
	}
	if copies {
		return flatPair{signal / used, math.NaN(), stats.Missing("the flats do not differ: copies of one file, or not real exposures")}
	}
	one := signal / used * variance / light
	if !(variance > 0) {
		return flatPair{signal / used, one, stats.Missing("the light has no noise: the flats are saturated")}
	}
	g := light / variance
	return flatPair{signal / used, one, stats.Known(g, g*g*max(sigma, math.Sqrt(2.0/(pairBlock*pairBlock))/g)/math.Sqrt(used), 2)}
}

// clippedVariance is the variance of d about its mean (divided by n-1), clipped
// once at pairClip sigma and corrected for what a Gaussian loses by that.
func clippedVariance(d []float64) float64 {
	moments := func(lo, hi float64) (n, mean, variance float64) {
		var s, s2 float64
		for _, v := range d {
			if v >= lo && v <= hi {
				n++
				s += v
				s2 += v * v
			}
		}
		mean = s / n
		return n, mean, max(s2/n-mean*mean, 0) * n / (n - 1)
	}
	_, mean, v := moments(math.Inf(-1), math.Inf(1))
	for range 3 {
		cut := pairClip * math.Sqrt(v)
		n, m, kept := moments(mean-cut, mean+cut)
		if n < 2 {
			return v
		}
		f := stats.ClippedShare(pairClip)
		mean, v = m, kept/(f*f)
	}
	return v
}
