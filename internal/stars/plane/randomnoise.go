package plane

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// randomSamples is about how many places of a frame are looked at: enough for
// 0.4 % of the noise.
const randomSamples = 40000

// clipped3 is what clipping at 3 sigma leaves of a Gaussian's sd.
const clipped3 = 0.9848

// RandomNoise is the noise that differs from pixel to pixel, and from sub to
// sub: what averages down in a stack. Faint stars and nebula, which raise the
// scatter of the background but are the same in every sub, are smooth over a
// pixel, and the operator 1 -2 1, applied along both axes, takes them out; its
// answer to white noise of sd 1 has sd 6 (Immerkær 1996, CVIU 64, 300). On a
// colour mosaic it reaches to the next pixels of the same colour. What stars
// leave is clipped at 3 sigma. Where interpolation smeared noise over neighbours, the
// operator goes over the means of blocks of pixels: bilinear interpolation halfway
// between pixels leaves a sixth of the noise from pixel to pixel, and 0.86 of it between
// blocks of six.
//
// The noise is that of the whole frame, and of side x side parts of it, row by row
// (NaN where there are too few pixels to look at). What is under limit is given as
// that, without an error: see stats.NoiseLimit.
func (p *Plane) RandomNoise(side int, limit float64) (whole stats.Value, parts []float64) {
	reach := 1
	step := max(1, int(math.Sqrt(float64(p.W)*float64(p.H)/randomSamples)))
	switch {
	case p.Green >= 0:
		reach = 2
		step |= 1 // an even one would look at one colour alone
	case p.Smeared:
		reach = smearedBlock
		step = max(step, smearedBlock)
	}
	answers := slices.Grow(p.ripples[:0], side*side)[:side*side]
	for part := range answers {
		answers[part] = answers[part][:0]
	}
	p.ripples = answers
	last := reach
	if p.Smeared {
		last = 2*reach - 1 // a block is named by its first pixel
	}
	around := p.Around(float64(reach))
	for y := reach; y < p.H-last; y += step {
		for x := reach + y*7%step; x < p.W-last; x += step { // rows start at different columns
			around.Fetch(x+8*step, y) // at hand when its turn comes
			if v, ok := p.ripple(x, y, reach); ok {
				part := stars.PartOf(float64(x), float64(y), p.W, p.H, side)
				answers[part] = append(answers[part], v)
			}
		}
	}
	for _, a := range answers {
		parts = append(parts, noiseOf(a, limit).V)
	}
	return noiseOf(slices.Concat(answers...), limit), parts
}

func noiseOf(answers []float32, limit float64) stats.Value {
	if len(answers) < 100 {
		return stats.Missing(stars.FewNeighbours)
	}
	c := stats.SigmaClip(answers, 3, 10)
	sd := c.SD / 6 / clipped3
	if sd < limit {
		return stats.Known(limit, math.NaN(), c.N)
	}
	return stats.Known(sd, sd/math.Sqrt(2*float64(c.N)), c.N)
}

// smearedBlock is the side of the blocks that tell noise which neighbours share, px.
const smearedBlock = 6

// block is the mean of the block that begins at a pixel, if all of it is measured.
func (p *Plane) block(x, y int) (v float32, ok bool) {
	for j := y; j < y+smearedBlock; j++ {
		for i := x; i < x+smearedBlock; i++ {
			if !p.Trusted(i, j) {
				return 0, false
			}
			v += p.R[j*p.W+i]
		}
	}
	return v / smearedBlock, true
}

// ripple is the operator's answer at one pixel, or block, if all nine are measured.
func (p *Plane) ripple(x, y, reach int) (sum float32, ok bool) {
	if p.Smeared {
		return p.rippleOfBlocks(x, y, reach)
	}
	if !p.Measured(x, y) {
		return 0, false
	}
	first := (y-reach)*p.W + x - reach
	for _, a := range [3]float32{1, -2, 1} {
		if p.HasBad && (p.Bad.Get(first) || p.Bad.Get(first+reach) || p.Bad.Get(first+2*reach)) {
			return 0, false
		}
		row := p.R[first:][:2*reach+1]
		sum += a * row[0]
		sum -= 2 * a * row[reach]
		sum += a * row[2*reach]
		first += reach * p.W
	}
	return sum, true
}

// rippleOfBlocks is ripple where neighbours share their noise.
func (p *Plane) rippleOfBlocks(x, y, reach int) (sum float32, ok bool) {
	for j, a := range [3]float32{1, -2, 1} {
		for i, b := range [3]float32{1, -2, 1} {
			v, ok := p.block(x+(i-1)*reach, y+(j-1)*reach)
			if !ok {
				return 0, false
			}
			sum += a * b * v
		}
	}
	return sum, true
}
