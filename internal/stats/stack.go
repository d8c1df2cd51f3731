package stats

import (
	"math"
	"sync"
)

// Stack gathers what a series of frames of one size holds, in one pass and in
// memory that does not depend on the number of frames: per pixel the exact sum
// and sum of squares and both extremes (16 bytes), the exact histogram of the
// differences of adjacent frames, the mean of every row, and column means of
// the first few differences.
//
// Frames are added in batches, so that the sums of a row are fetched from
// memory once a batch and not once a frame. Of frames of more than 4 million
// pixels, differences are counted in every second, third... row: a spread is
// known to 0.04 % from 4 million of them.
type Stack struct {
	Width, Height int
	Frames        int         // frames added
	Pairs         []Clipped   // differences, later minus earlier, of adjacent frames; clipped at 5 sigma
	First         Clipped     // level of the first frame, clipped at 5 sigma
	Samples       *Histogram  // samples of the first frame of every batch
	Diff          *Histogram  // all differences, each pair's own mean taken off
	RowMeans      [][]float32 // of each frame
	ColDiffs      [][]float32 // column means of the differences of the first pairs

	sum    []uint32
	sq     []uint64
	lo, hi []uint16
}

// PairClip is where the differences of adjacent frames are clipped, sigma.
const PairClip = 5

// countedPixels is how many pixels of a frame have their differences counted,
// at least, where there are so many.
const countedPixels = 4_000_000

// columnPairs is how many pairs have their columns averaged: one pair holds
// some thousand columns, which give the spread of their means to a few percent.
const columnPairs = 4

// NewStack is an empty stack for frames of width times height pixels.
func NewStack(width, height int) *Stack {
	n := width * height
	s := &Stack{
		Width: width, Height: height,
		Samples: NewHistogram(0, math.MaxUint16),
		Diff:    NewHistogram(-math.MaxUint16, math.MaxUint16),
		sum:     make([]uint32, n), sq: make([]uint64, n),
		lo: make([]uint16, n), hi: make([]uint16, n),
	}
	for i := range s.lo {
		s.lo[i] = math.MaxUint16
	}
	return s
}

// diffCounts counts the differences of one pair; a difference d is found at
// d modulo 2^17, so that the index needs no bounds check.
type diffCounts [1 << 17]uint32

const diffMask = 1<<17 - 1

// Add takes in the next frames of the series. before is the frame that came
// just before them (nil for none): it is paired with the first of them but not
// added again. At most 65536 frames can be added in all.
func (s *Stack) Add(before []uint16, batch [][]uint16, workers int) {
	if len(batch) == 0 {
		return
	}
	paired := before != nil
	if !paired {
		before = batch[0] // a difference of zero, thrown away below
	}
	for range batch {
		s.RowMeans = append(s.RowMeans, make([]float32, s.Height))
	}
	for len(s.ColDiffs) < columnPairs && len(s.ColDiffs) < s.Frames+len(batch)-1 {
		s.ColDiffs = append(s.ColDiffs, make([]float32, s.Width))
	}
	workers = max(1, min(workers, s.Height))
	counts := make([][]diffCounts, workers)
	samples := make([][]uint32, workers)
	columns := make([][][]int64, workers)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			counts[w] = make([]diffCounts, len(batch))
			samples[w] = make([]uint32, 1<<16)
			columns[w] = make([][]int64, len(s.ColDiffs))
			for i := range columns[w] {
				columns[w][i] = make([]int64, s.Width)
			}
			for y := s.Height * w / workers; y < s.Height*(w+1)/workers; y++ {
				s.addRow(y, before, batch, paired, counts[w], samples[w], columns[w])
			}
		})
	}
	wg.Wait()
	s.collect(len(batch), paired, counts, samples, columns)
	s.Frames += len(batch)
}

// addRow adds row y of every frame of a batch.
func (s *Stack) addRow(y int, before []uint16, batch [][]uint16, paired bool, counts []diffCounts, samples []uint32, columns [][]int64) {
	a, b := y*s.Width, (y+1)*s.Width
	sum, sq, lo, hi := s.sum[a:b], s.sq[a:b], s.lo[a:b], s.hi[a:b]
	last := before[a:b]
	f := 0
	if y%s.RowStep() != 0 {
		for ; f+4 <= len(batch); f += 4 {
			r := sumRow4(batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b], sum, sq, lo, hi)
			for i, total := range r {
				s.RowMeans[s.Frames+f+i][y] = float32(float64(total) / float64(s.Width))
			}
		}
		for ; f < len(batch); f++ {
			s.RowMeans[s.Frames+f][y] = float32(float64(sumRow1(batch[f][a:b], sum, sq, lo, hi)) / float64(s.Width))
		}
		return
	}
	for _, v := range batch[0][a:b] {
		samples[v]++
	}
	for ; f+4 <= len(batch); f += 4 {
		r := addRow4(last, batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b], sum, sq, lo, hi, counts[f:f+4])
		for i, total := range r {
			s.RowMeans[s.Frames+f+i][y] = float32(float64(total) / float64(s.Width))
		}
		last = batch[f+3][a:b]
	}
	for ; f < len(batch); f++ {
		total := addRow1(last, batch[f][a:b], sum, sq, lo, hi, &counts[f])
		s.RowMeans[s.Frames+f][y] = float32(float64(total) / float64(s.Width))
		last = batch[f][a:b]
	}
	// Pair p of the series is frame p+1 minus frame p.
	for p := range columns {
		f := p + 1 - s.Frames // its later frame, counted in this batch
		if f < 0 || f >= len(batch) || (f == 0 && !paired) {
			continue
		}
		from := before
		if f > 0 {
			from = batch[f-1]
		}
		addColumns(columns[p], from[a:b], batch[f][a:b])
	}
}

// RowStep is the step from row to row whose differences are counted.
func (s *Stack) RowStep() int { return max(1, s.Width*s.Height/countedPixels) }

// sumRow1 adds one frame's row to the sums; it returns the row's total.
func sumRow1(x []uint16, sum []uint32, sq []uint64, lo, hi []uint16) (total uint64) {
	n := len(x)
	sum, sq, lo, hi = sum[:n], sq[:n], lo[:n], hi[:n]
	for i, v := range x {
		w := uint32(v)
		sum[i] += w
		sq[i] += uint64(w * w)
		lo[i] = min(lo[i], v)
		hi[i] = max(hi[i], v)
		total += uint64(w)
	}
	return total
}

// sumRow4 is sumRow1 for four frames at once.
func sumRow4(x0, x1, x2, x3 []uint16, sum []uint32, sq []uint64, lo, hi []uint16) (total [4]uint64) {
	n := len(x0)
	x1, x2, x3 = x1[:n], x2[:n], x3[:n]
	sum, sq, lo, hi = sum[:n], sq[:n], lo[:n], hi[:n]
	var t0, t1, t2, t3 uint64
	for i, v0 := range x0 {
		v1, v2, v3 := x1[i], x2[i], x3[i]
		a, b, c, d := uint32(v0), uint32(v1), uint32(v2), uint32(v3)
		sum[i] += a + b + c + d
		sq[i] += uint64(a*a) + uint64(b*b) + uint64(c*c) + uint64(d*d)
		lo[i] = min(lo[i], v0, v1, v2, v3)
		hi[i] = max(hi[i], v0, v1, v2, v3)
		t0 += uint64(a)
		t1 += uint64(b)
		t2 += uint64(c)
		t3 += uint64(d)
	}
	return [4]uint64{t0, t1, t2, t3}
}

// addRow1 adds one frame's row to the sums and counts its differences from the
// frame before; it returns the row's total.
func addRow1(p, x []uint16, sum []uint32, sq []uint64, lo, hi []uint16, h *diffCounts) (total uint64) {
	n := len(x)
	p, sum, sq, lo, hi = p[:n], sum[:n], sq[:n], lo[:n], hi[:n]
	for i, v := range x {
		w := uint32(v)
		h[(w-uint32(p[i]))&diffMask]++
		sum[i] += w
		sq[i] += uint64(w * w)
		lo[i] = min(lo[i], v)
		hi[i] = max(hi[i], v)
		total += uint64(w)
	}
	return total
}

// addRow4 is addRow1 for four frames at once, which spares three of four trips
// to the sums and spreads neighbouring counts over four histograms.
func addRow4(p, x0, x1, x2, x3 []uint16, sum []uint32, sq []uint64, lo, hi []uint16, h []diffCounts) (total [4]uint64) {
	n := len(p)
	x0, x1, x2, x3 = x0[:n], x1[:n], x2[:n], x3[:n]
	sum, sq, lo, hi = sum[:n], sq[:n], lo[:n], hi[:n]
	h0, h1, h2, h3 := &h[0], &h[1], &h[2], &h[3]
	var t0, t1, t2, t3 uint64
	for i, v := range p {
		v0, v1, v2, v3 := x0[i], x1[i], x2[i], x3[i]
		a, b, c, d := uint32(v0), uint32(v1), uint32(v2), uint32(v3)
		h0[(a-uint32(v))&diffMask]++
		h1[(b-a)&diffMask]++
		h2[(c-b)&diffMask]++
		h3[(d-c)&diffMask]++
		sum[i] += a + b + c + d
		sq[i] += uint64(a*a) + uint64(b*b) + uint64(c*c) + uint64(d*d)
		lo[i] = min(lo[i], v0, v1, v2, v3)
		hi[i] = max(hi[i], v0, v1, v2, v3)
		t0 += uint64(a)
		t1 += uint64(b)
		t2 += uint64(c)
		t3 += uint64(d)
	}
	return [4]uint64{t0, t1, t2, t3}
}

func addColumns(col []int64, from, to []uint16) {
	col, from = col[:len(to)], from[:len(to)]
	for x, v := range to {
		col[x] += int64(v) - int64(from[x])
	}
}

// collect turns the workers' counts of a batch into figures.
func (s *Stack) collect(frames int, paired bool, counts [][]diffCounts, samples [][]uint32, columns [][][]int64) {
	firstFrame := NewHistogram(0, math.MaxUint16)
	for _, worker := range samples {
		for v, c := range worker {
			firstFrame.Counts[v] += uint64(c)
		}
	}
	s.Samples.Merge(firstFrame)
	if s.Frames == 0 {
		s.First = firstFrame.SigmaClip(PairClip)
	}
	for f := range frames {
		if f == 0 && !paired {
			continue
		}
		h := NewHistogram(-math.MaxUint16, math.MaxUint16)
		for w := range counts {
			for i := range h.Counts {
				h.Counts[i] += uint64(counts[w][f][(i-math.MaxUint16)&diffMask])
			}
		}
		pair := h.SigmaClip(PairClip)
		s.Pairs = append(s.Pairs, pair)
		// Rounding the mean keeps the pooled histogram one of whole numbers.
		shift := int(math.Round(pair.Mean))
		for i, c := range h.Counts {
			if c != 0 {
				s.Diff.Counts[min(max(i-shift, 0), len(s.Diff.Counts)-1)] += c
			}
		}
	}
	for p := range s.ColDiffs {
		for x := range s.ColDiffs[p] {
			for w := range columns {
				s.ColDiffs[p][x] += float32(float64(columns[w][p][x]) / float64((s.Height+s.RowStep()-1)/s.RowStep()))
			}
		}
	}
}

// Levels are the levels of the frames: the first one's clipped mean, and the
// clipped mean difference from frame to frame on top of it. Fixed pattern and
// hot pixels fall out of the differences.
func (s *Stack) Levels() []float64 {
	levels := make([]float64, s.Frames)
	for i := range levels {
		if i == 0 {
			levels[i] = s.First.Mean
		} else {
			levels[i] = levels[i-1] + s.Pairs[i-1].Mean
		}
	}
	return levels
}

// Mean is the plain mean of pixel i.
func (s *Stack) Mean(i int) float64 { return float64(s.sum[i]) / float64(s.Frames) }

// Lowest is the lowest sample of pixel i.
func (s *Stack) Lowest(i int) uint16 { return s.lo[i] }

// Variance is the sample variance (divided by n-1) of pixel i; NaN under two frames.
func (s *Stack) Variance(i int) float64 {
	if s.Frames < 2 {
		return math.NaN()
	}
	return sampleVariance(uint64(s.Frames), uint64(s.sum[i]), s.sq[i])
}

// sampleVariance is exact up to the last division: n·Σx² stays under 2^64 for
// 65536 samples of 16 bits.
func sampleVariance(n, sum, sq uint64) float64 {
	return float64(n*sq-sum*sum) / float64(n) / float64(n-1)
}

// CleanMean writes every pixel's mean into dst, its highest and its lowest
// sample left out where they stand more than k sigma from the mean of the
// others: particle hits and satellites fall out, one a pixel. sigma is the
// noise of one frame; a pixel that is noisier among its other samples is
// judged by its own noise. With two frames the lower one counts where they
// differ too much, with one there is no telling. It returns how many samples
// were left out.
func (s *Stack) CleanMean(dst []float32, k, sigma float64, workers int) (rejected int) {
	workers = max(1, workers)
	out := make([]int, workers)
	var wg sync.WaitGroup
	n := len(s.sum)
	for w := range workers {
		wg.Go(func() {
			inverse := 1 / float64(s.Frames)
			calm := uint16(min(math.Floor(k*sigma), math.MaxUint16)) // a range that holds nothing to reject
			for i := n * w / workers; i < n*(w+1)/workers; i++ {
				if s.hi[i]-s.lo[i] <= calm {
					dst[i] = float32(float64(s.sum[i]) * inverse)
					continue
				}
				m, r := s.cleanMean(i, k, sigma)
				dst[i] = float32(m)
				out[w] += r
			}
		})
	}
	wg.Wait()
	for _, r := range out {
		rejected += r
	}
	return rejected
}

func (s *Stack) cleanMean(i int, k, sigma float64) (mean float64, rejected int) {
	n, sum, lo, hi := float64(s.Frames), float64(s.sum[i]), float64(s.lo[i]), float64(s.hi[i])
	switch {
	case s.Frames == 1 || hi-lo <= k*sigma:
		return sum / n, 0
	case s.Frames == 2:
		if hi-lo > k*math.Sqrt2*sigma {
			return lo, 1
		}
		return sum / n, 0
	}
	inner := sum - lo - hi
	mean = inner / (n - 2)
	if s.Frames >= 5 {
		rest := sampleVariance(uint64(s.Frames-2), uint64(inner), s.sq[i]-uint64(s.lo[i])*uint64(s.lo[i])-uint64(s.hi[i])*uint64(s.hi[i]))
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
