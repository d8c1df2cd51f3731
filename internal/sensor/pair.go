package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// pairBlock is the side of the blocks in which two flats are compared: small
// enough that illumination is even across it, large enough (1024 pixels) that
// its variance is known to 4.4 %.
const pairBlock = 32

// halfBlock is the side of what the rows and columns of one parity leave of a block.
const halfBlock = pairBlock / 2

// pairClip is where differences within a block are clipped, sigma of the noise:
// particle hits fall out, one good pixel in 50000 too.
const pairClip = 4

// pairShare is the sd of a Gaussian clipped there over its own: means of rows and
// columns make the differences smaller than their noise is.
var pairShare = stats.ClippedShare(pairClip * math.Sqrt(pairBlock*pairBlock/float64(patternFreedom)))

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
	none := flatPair{math.NaN(), math.NaN(), math.NaN(), stats.Missing(PairSmallOrDark)}
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
	blocks = slices.DeleteFunc(blocks, func(b pairedBlock) bool { return !(b.signal > dim) })
	return pooled(agreeing(blocks), readVariance)
}

// pooled is what blocks tell together. Their variances scatter as those of so many
// Gaussian pixels do, or more where they show it; a median deviation of few blocks
// would tell that far worse.
func pooled(blocks []pairedBlock, readVariance float64) flatPair {
	var signal, light, variance, noise, used float64
	copies := true
	for _, b := range blocks {
		copies = copies && !b.differs
		signal += b.signal
		light += b.light
		variance += b.variance
		noise += b.noise * b.noise
		used++
	}
	signal /= used
	if copies {
		return flatPair{signal, math.NaN(), math.NaN(), stats.Missing(FlatsAlike)}
	}
	one := signal * variance / light
	sd := math.Sqrt(max(one+readVariance, 0)) / signal
	if !(variance > 0) {
		return flatPair{signal, one, sd, stats.Missing(FlatsNoiseless)}
	}
	var chi2 float64
	for _, b := range blocks {
		z := (b.variance - b.light*variance/light) / (b.noise * varianceError)
		chi2 += z * z
	}
	rel := varianceError * math.Sqrt(noise*max(1, chi2/(used-1))) / variance
	return flatPair{signal, one, sd, stats.Known(light/variance, light/variance*rel, 2)}
}

// agreeing leaves out blocks whose variance for their light stands off the median by
// five of the blocks' deviations, and of its own error: the median deviation of a
// handful of blocks may be small by chance.
func agreeing(blocks []pairedBlock) []pairedBlock {
	var ratios []float64
	for _, b := range blocks {
		ratios = append(ratios, b.variance/b.light)
	}
	centre, sigma := stats.Median(ratios), stats.MADSigma(ratios)
	return slices.DeleteFunc(blocks, func(b pairedBlock) bool {
		return math.Abs(b.variance/b.light-centre) > 5*max(sigma, varianceError*b.noise/b.light)
	})
}

// pairedBlock is what one block of two flats tells: signal and the light that
// its variance is of, NaN where it is dark or cut at the top; noise is the variance
// with that of the read noise.
type pairedBlock struct {
	signal, light, variance, noise float64
	differs                        bool
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
	return pairedBlock{signal / rows, light / rows, v - read/rows, v, v > 1e-9}
}

// patternFreedom is what the means of rows and columns of both parities leave
// of a block's degrees of freedom: (16-1)² in each of four.
const patternFreedom = 4 * (halfBlock - 1) * (halfBlock - 1)

// varianceError is the relative error of a block's variance of Gaussian noise.
var varianceError = math.Sqrt(2. / patternFreedom)

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
