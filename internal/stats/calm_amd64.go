package stats

//go:generate go run ../assembly -routines calm -out calm_amd64.s

import (
	"math"

	"golang.org/x/sys/cpu"
)

// calmFrames is up to how many frames n times a sample fits 32 bits with sign.
const calmFrames = 1 << 14

// calmMeans writes the plain means of the pixels from at on into dst, as far as
// none has an extreme that stands more than limit from the mean of the other
// samples, and returns where that ends. It may end early.
func (p *Pixels) calmMeans(dst []float32, at int, limit float64) int {
	n := (len(dst) - at) &^ 7
	if n == 0 || p.N < 3 || p.N > calmFrames || !cpu.X86.HasAVX2 {
		return at
	}
	reach := int32(min(math.Floor(limit*float64(p.N-2)), math.MaxInt32))
	return at + calmMeansAVX2(&dst[at], &p.sum[at], &p.lo[at], &p.hi[at], n, int32(p.N-2), reach, 1/float64(p.N))
}

// calmMeansAVX2 is calmMeans for n pixels, a multiple of 8; others is the number
// of frames without two, reach what limit is times that.
//
//go:noescape
func calmMeansAVX2(dst *float32, sum *uint32, lo, hi *uint16, n int, others, reach int32, inverse float64) int
