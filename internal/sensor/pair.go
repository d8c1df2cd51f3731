package sensor

import (
	"math"

	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// pairBlock is the side of the blocks in which two flats are compared: small
// enough that illumination is even across it, large enough (1024 pixels) that
// its variance is known to 4.4 %.
const pairBlock = 32

// halfBlock is the side of what the rows and columns of one parity leave of a block.
const halfBlock = pairBlock / 2

// pairClip is where differences within a block are clipped, sigma: particle
// hits fall out, one good pixel in 16000 too.
const pairClip = 4

// pairShare is the sd of a Gaussian clipped there over its own.
var pairShare = stats.ClippedShare(pairClip)

// flatPair is what two flats of about the same level tell.
type flatPair struct {
	signal   float64     // ADU above the offset, mean of the two
	variance float64     // ADU², of the light in one of them; NaN for copies of one frame
	noise    float64     // of one of them, read noise included, over the signal; NaN likewise
	gain     stats.Value // e-/ADU
}

// measurePair compares two flats (or one colour plane of them, stride 2 from
// x0, y0) block by block. In a row x and y differ by a factor r, and the
// variance of x - r y is that of the light in both, K mx (1+r), and of the
// read noise, v (1+r²): with r = 1 the two-flat-two-bias method (Howell,
// Handbook of CCD Astronomy, 2nd ed., section 4.3; the printed equation from
// memory), and free of fixed pattern and of a drift of the light. Every row has
// its own r, columns of odd and of even rows their own mean, and so have the two
// parities of columns: read-outs in two fields or with banding change these from
// frame to frame, which is no noise of the light.
func measurePair(x, y []uint16, width, stride, x0, y0 int, offset, readVariance, top float64, workers int) flatPair {
	height := len(x) / width
	w, h := (width-x0+stride-1)/stride, (height-y0+stride-1)/stride
	nx, ny := w/pairBlock, h/pairBlock
	none := flatPair{math.NaN(), math.NaN(), math.NaN(), stats.Missing("the frames are too small or too dark")}
	if nx*ny < 4 {
		return none
	}
	blocks := make([]pairedBlock, nx*ny)
	parallel.Items(ny, workers, func(j int) {
		d := make([]float64, pairBlock*pairBlock)
		for i := range nx {
			at := (y0+j*pairBlock*stride)*width + x0 + i*pairBlock*stride
			blocks[j*nx+i] = compareBlock(d, x[at:], y[at:], width*stride, stride, offset, readVariance, top)
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
	var kept []pairedBlock
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
		return flatPair{signal / used, math.NaN(), math.NaN(), stats.Missing("the flats do not differ: copies of one file, or not real exposures")}
	}
	one := signal / used * variance / light
	noise := math.Sqrt(max(one+readVariance, 0)) / (signal / used)
	if !(variance > 0) {
		return flatPair{signal / used, one, noise, stats.Missing("the light has no noise: the flats are saturated")}
	}
	g := light / variance
	return flatPair{signal / used, one, noise, stats.Known(g, g*g*max(sigma, math.Sqrt(2/patternFreedom)/g)/math.Sqrt(used), 2)}
}

// pairedBlock is what one block of two flats tells: signal and the light that
// its variance is of, NaN where it is dark or cut at the top.
type pairedBlock struct {
	signal, light, variance float64
	differs                 bool
}

// compareBlock takes a block of x and y; d is room for its pixels.
func compareBlock(d []float64, x, y []uint16, rowStep, stride int, offset, readVariance, top float64) pairedBlock {
	var signal, light, read float64
	for l := range pairBlock {
		for half := range 2 {
			var sx, sy float64
			for k := half; k < pairBlock; k += 2 {
				sx += float64(x[l*rowStep+k*stride])
				sy += float64(y[l*rowStep+k*stride])
			}
			mx, my := sx/halfBlock-offset, sy/halfBlock-offset
			if !(mx > 0 && my > 0) || max(mx, my)+offset > top {
				return pairedBlock{signal: math.NaN()}
			}
			r := mx / my
			signal += (mx + my) / 2
			light += mx * (1 + r)
			read += readVariance * (1 + r*r)
			for k := half; k < pairBlock; k += 2 {
				d[l*pairBlock+k] = float64(x[l*rowStep+k*stride]) - offset - r*(float64(y[l*rowStep+k*stride])-offset)
			}
		}
	}
	const rows = 2 * pairBlock
	v := patternFreeVariance(d)
	return pairedBlock{signal / rows, light / rows, v - read/rows, v > 1e-9}
}

// patternFreedom is what the means of rows and columns of both parities leave
// of a block's degrees of freedom: (16-1)² in each of four.
const patternFreedom = 4 * (halfBlock - 1) * (halfBlock - 1)

// patternFreeVariance is the variance of a block about the means of its rows and
// columns, those of either parity of the other apart. Pixels are clipped at
// pairClip sigma, which is corrected for, and take no part in the means then. d
// is overwritten.
func patternFreeVariance(d []float64) float64 {
	const n = pairBlock * pairBlock
	var out [n]bool
	centreLines(d, &out, 1, pairBlock)
	centreLines(d, &out, pairBlock, 1)
	v := meanSquare(d, &out) * n / patternFreedom
	for range 2 {
		cut, clipped := pairClip*math.Sqrt(v), false
		for k, z := range d {
			out[k] = z > cut || z < -cut
			clipped = clipped || out[k]
		}
		if clipped {
			for range 2 { // the means of rows move a little with those of columns
				centreLines(d, &out, 1, pairBlock)
				centreLines(d, &out, pairBlock, 1)
			}
		}
		v = meanSquare(d, &out) * n / patternFreedom / (pairShare * pairShare)
		if !clipped {
			break
		}
	}
	return v
}

// meanSquare of the pixels that are not out.
func meanSquare(d []float64, out *[pairBlock * pairBlock]bool) float64 {
	var sum, n float64
	for k, z := range d {
		if !out[k] {
			sum += z * z
			n++
		}
	}
	return sum / n
}

// centreLines takes the mean off every line of a block, of its even and its odd
// pixels apart: along is the step from pixel to pixel, across from line to line.
func centreLines(d []float64, out *[pairBlock * pairBlock]bool, along, across int) {
	for l := range pairBlock {
		for half := range 2 {
			var sum, n float64
			from := l*across + half*along
			for k := range halfBlock {
				if i := from + 2*k*along; !out[i] {
					sum += d[i]
					n++
				}
			}
			if n == 0 {
				continue
			}
			mean := sum / n
			for k := range halfBlock {
				d[from+2*k*along] -= mean
			}
		}
	}
}
