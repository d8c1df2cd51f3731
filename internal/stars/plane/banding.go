package plane

import (
	"math"

	"fitsqa/internal/stats"
)

// The amplifiers of some cameras add an offset to every row (or column) as they read it,
// another in every frame. The background's mesh cannot follow it, and a filter for stars
// that takes noise for white finds images drawn out along rows: offsets that scatter by
// as much as the noise of pixels more than double what a filter of 3 px answers to noise. It is the same in
// all of a row, whose median tells it to a hundredth or two of the noise; stars and tracks
// do not reach the median of a row that they do not fill.

const (
	bandingSure    = 4    // standard errors by which lines scatter more than the noise of their pixels lets them
	bandingErr     = 1.4  // of a sd told by the median deviation of so many differences, over the root of their number: 1.17 of independent ones (Rousseeuw and Croux 1993, JASA 88, 1273: efficiency 0.37), and these share lines
	bandingLeast   = 0.1  // of the noise of pixels: less adds under 3 % to that of a star of 3 px
	bandingFewest  = 32   // lines that tell how lines scatter
	bandingSamples = 1000 // about how many pixels tell a line's offset
	bandingSmooth  = 32   // lines to either side, over which what they have in common is background, or nebula
)

// levelLines takes off what each row, and each column, is offset by, where that scatters from
// line to line by more than noise. It tells whether it did: the picture then has its
// background back, to be taken off anew.
func (p *Plane) levelLines() bool {
	noise := MedianNoise(&p.Mesh).V
	told := func(length int) float64 { return float64(length/lineStep(length)) * p.Density() }
	rows, columns := banded(p.rows, told(p.W), noise), banded(p.columns.means(), told(p.H), noise)
	if !rows && !columns {
		return false
	}
	for range 2 { // a row's median is the surer without the offsets of columns
		if rows {
			p.takeOff(p.offsets(p.H, p.W, false), false)
		}
		if columns {
			p.takeOff(p.offsets(p.W, p.H, true), true)
		}
		if !rows || !columns {
			break
		}
	}
	p.restore()
	return true
}

// banded tells whether the means of n pixels of each line scatter by more than these
// pixels' noise. Lines are compared with the next but one, which are of the same field of
// the read-out and the same colour, so that neither slopes nor alternation count.
func banded(means []float64, n, noise float64) bool {
	var apart []float64
	for i := 2; i+2 < len(means); i++ {
		if d := means[i] - (means[i-2]+means[i+2])/2; d == d {
			apart = append(apart, d)
		}
	}
	if len(apart) < bandingFewest {
		return false
	}
	sd, white := stats.MADSigma(apart)/math.Sqrt(1.5), noise/math.Sqrt(n)
	sure := 1 + bandingSure*bandingErr/math.Sqrt(float64(len(apart)))
	return sd > sure*white && math.Sqrt(sd*sd-white*white) > bandingLeast*noise
}

// offsets are those of lines of so many pixels from the lines around them, 0 where too few
// pixels tell.
func (p *Plane) offsets(lines, length int, columns bool) []float32 {
	medians := make([]float64, lines)
	step := max(1, int(float64(length)*p.Density()/bandingSamples)) | 1 // an even one would look at one colour alone
	var samples []float32
	for line := range medians {
		samples = samples[:0]
		for k := line % step; k < length; k += step {
			x, y := k, line
			if columns {
				x, y = line, k
			}
			if p.Trusted(x, y) {
				samples = append(samples, p.R[y*p.W+x])
			}
		}
		medians[line] = math.NaN()
		if len(samples) >= 16 {
			medians[line] = stats.MedianInPlace(samples)
		}
	}
	return fromAround(medians)
}

// fromAround is by how much each line stands above the median of those around it.
func fromAround(lines []float64) []float32 {
	out := make([]float32, len(lines))
	var around []float64
	for i, v := range lines {
		if v != v {
			continue
		}
		around = around[:0]
		for _, o := range lines[max(0, i-bandingSmooth):min(len(lines), i+bandingSmooth+1)] {
			if o == o {
				around = append(around, o)
			}
		}
		out[i] = float32(v - stats.MedianInPlace(around))
	}
	return out
}

func (p *Plane) takeOff(offsets []float32, columns bool) {
	for y := range p.H {
		row := p.R[y*p.W:][:p.W]
		for x := range row {
			if columns {
				row[x] -= offsets[x]
			} else {
				row[x] -= offsets[y]
			}
		}
	}
}

// restore puts the background back on, and marks again what holds no light.
func (p *Plane) restore() {
	level := make([]float32, p.W)
	for y := range p.H {
		p.Mesh.LevelRow(y, level)
		for x, v := range level {
			p.R[y*p.W+x] += v
		}
	}
	if p.HasBad {
		p.Bad.each(func(i int) { p.R[i] = float32(math.NaN()) })
	}
	if p.Green >= 0 {
		FillFromGreen(p.R, p.W, p.H, p.Green)
	}
}
