package stats

import "math"

// Pixels are what a stack keeps of a run of pixels: exact sum and sum of
// squares, lowest and highest sample.
type Pixels struct {
	N      int // frames
	sum    []uint32
	sq     []uint64
	lo, hi []uint16

	// samples of all frames, where they are at hand: in rows that are not
	// counted sq is then not kept, but taken for the few pixels that need it.
	samples [][]uint16
}

// squares is the sum of squares of pixel i, in any row.
func (p *Pixels) squares(i int) uint64 {
	if p.samples == nil {
		return p.sq[i]
	}
	var sq uint64
	for _, x := range p.samples {
		sq += uint64(x[i]) * uint64(x[i])
	}
	return sq
}

func newPixels(n int) Pixels {
	p := Pixels{sum: make([]uint32, n), sq: make([]uint64, n), lo: make([]uint16, n), hi: make([]uint16, n)}
	p.clear()
	return p
}

func (p *Pixels) clear() {
	clear(p.sum)
	clear(p.sq)
	clear(p.hi)
	for i := range p.lo {
		p.lo[i] = math.MaxUint16
	}
}

// Slice is the pixels from a up to b.
func (p *Pixels) Slice(a, b int) Pixels {
	return Pixels{N: p.N, sum: p.sum[a:b], sq: p.sq[a:b], lo: p.lo[a:b], hi: p.hi[a:b]}
}

// Len is how many pixels there are.
func (p *Pixels) Len() int { return len(p.sum) }

// Variance is the sample variance (divided by n-1) of pixel i; NaN under two
// frames. After a sweep of the whole series only counted rows have it.
func (p *Pixels) Variance(i int) float64 {
	if p.N < 2 {
		return math.NaN()
	}
	return sampleVariance(uint64(p.N), uint64(p.sum[i]), p.sq[i])
}

// sampleVariance is exact up to the last division: n·Σx² stays under 2^64 for
// 65536 samples of 16 bits.
func sampleVariance(n, sum, sq uint64) float64 {
	return float64(n*sq-sum*sum) / float64(n*(n-1))
}

// CleanMean writes every pixel's mean into dst, its highest and its lowest
// sample left out where they stand more than k sigma from the mean of the
// others: particle hits and satellites fall out, one a pixel. sigma is the
// noise of one frame; a pixel that is noisier among its other samples is
// judged by its own noise. With two frames the lower one counts where they
// differ too much, with one there is no telling. It returns how many samples
// were left out.
func (p *Pixels) CleanMean(dst []float32, k, sigma float64) (rejected int) {
	for at := 0; at < len(dst); {
		from := p.calmMeans(dst, at, k*sigma)
		at = min(from+8, len(dst))
		rejected += p.cleanMeans(dst[:at], from, k, sigma)
	}
	return rejected
}

// cleanMeans is CleanMean of the pixels from at on, one by one.
func (p *Pixels) cleanMeans(dst []float32, at int, k, sigma float64) (rejected int) {
	inverse := 1 / float64(p.N)
	// Nothing is to be rejected of a pixel both of whose extremes lie within
	// k sigma of the mean of the others: all sides times the number of those.
	n := float64(p.N)
	reach := k * sigma * (n - 2)
	sum, lo, hi := p.sum[:len(dst)], p.lo[:len(dst)], p.hi[:len(dst)]
	for i := at; i < len(dst); i++ {
		l, h := float64(lo[i]), float64(hi[i])
		inner := float64(sum[i]) - l - h
		if h*(n-2)-inner <= reach && inner-l*(n-2) <= reach && n > 2 {
			dst[i] = float32(float64(sum[i]) * inverse)
			continue
		}
		m, r := p.cleanMean(i, k, sigma)
		dst[i] = float32(m)
		rejected += r
	}
	return rejected
}

func (p *Pixels) cleanMean(i int, k, sigma float64) (mean float64, rejected int) {
	n, sum, lo, hi := float64(p.N), float64(p.sum[i]), float64(p.lo[i]), float64(p.hi[i])
	switch p.N {
	case 1:
		return sum, 0
	case 2:
		if hi-lo > k*math.Sqrt2*sigma {
			return lo, 1
		}
		return sum / n, 0
	}
	inner := sum - lo - hi
	mean = inner / (n - 2)
	if hi-mean <= k*sigma && mean-lo <= k*sigma {
		return sum / n, 0
	}
	if p.N >= 5 {
		rest := sampleVariance(uint64(p.N-2), uint64(inner), p.squares(i)-uint64(p.lo[i])*uint64(p.lo[i])-uint64(p.hi[i])*uint64(p.hi[i]))
		sigma = max(sigma, math.Sqrt(rest))
	}
	left := n - 2
	if hi-mean <= k*sigma {
		inner += hi
		left++
	}
	if mean-lo <= k*sigma {
		inner += lo
		left++
	}
	return inner / left, int(n - left)
}
