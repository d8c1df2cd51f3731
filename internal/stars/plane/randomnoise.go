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
// leave is clipped at 3 sigma.
//
// The noise is that of the whole frame, and of side x side parts of it, row by row
// (NaN where there are too few pixels to look at). What is under limit is given as
// that, without an error: see stats.NoiseLimit.
func (p *Plane) RandomNoise(side int, limit float64) (whole stats.Value, parts []float64) {
	reach := 1
	step := max(1, int(math.Sqrt(float64(p.W)*float64(p.H)/randomSamples)))
	if p.Green >= 0 {
		reach = 2
		step |= 1 // an even one would look at one colour alone
	}
	answers := slices.Grow(p.ripples[:0], side*side)[:side*side]
	for part := range answers {
		answers[part] = answers[part][:0]
	}
	p.ripples = answers
	for y := reach; y < p.H-reach; y += step {
		for x := reach + y*7%step; x < p.W-reach; x += step { // rows start at different columns
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

// noiseOf is the noise that the operator's answers tell.
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

// ripple is the operator's answer at one pixel, if all nine are measured.
func (p *Plane) ripple(x, y, reach int) (sum float32, ok bool) {
	for j, a := range [3]float32{1, -2, 1} {
		for i, b := range [3]float32{1, -2, 1} {
			xx, yy := x+(i-1)*reach, y+(j-1)*reach
			if !p.Trusted(xx, yy) {
				return 0, false
			}
			sum += a * b * p.R[yy*p.W+xx]
		}
	}
	return sum, true
}
