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

	pixels Pixels // of the whole frame; empty while strips suffice
}

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
	return &Stack{
		Width: width, Height: height,
		Samples: NewHistogram(0, math.MaxUint16),
		Diff:    NewHistogram(-math.MaxUint16, math.MaxUint16),
	}
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
	workers = max(1, min(workers, s.Height))
	sw := s.Sweep(len(batch), before != nil, false, workers)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			rows := make([][]uint16, len(batch))
			for y := s.Height * w / workers; y < s.Height*(w+1)/workers; y++ {
				a, b := y*s.Width, (y+1)*s.Width
				for f := range batch {
					rows[f] = batch[f][a:b]
				}
				var first []uint16
				if before != nil {
					first = before[a:b]
				}
				sw.Strip(w, y, first, rows)
			}
		})
	}
	wg.Wait()
	sw.Close()
}

// Sweep is a pass over some frames of a series, side by side in strips of rows.
type Sweep struct {
	s       *Stack
	frames  int
	paired  bool // there is a frame before
	whole   bool // the sweep holds all frames: strips are done when they are passed
	workers []sweepWorker
}

// sweepWorker is what one goroutine counts for itself.
type sweepWorker struct {
	counts  []diffCounts
	samples []uint32
	columns [][]int64
	strip   Pixels
}

// Sweep starts a pass over the next frames of the series; paired tells that
// strips come with the frame before them, whole that there are no others in
// the series, so that no sums need be kept. Close it when all strips were passed.
func (s *Stack) Sweep(frames int, paired, whole bool, workers int) *Sweep {
	for range frames {
		s.RowMeans = append(s.RowMeans, make([]float32, s.Height))
	}
	for len(s.ColDiffs) < columnPairs && len(s.ColDiffs) < s.Frames+frames-1 {
		s.ColDiffs = append(s.ColDiffs, make([]float32, s.Width))
	}
	if !whole && s.pixels.Len() == 0 {
		s.pixels = newPixels(s.Width * s.Height)
	}
	sw := &Sweep{s: s, frames: frames, paired: paired, whole: whole, workers: make([]sweepWorker, workers)}
	for w := range sw.workers {
		k := &sw.workers[w]
		k.counts = make([]diffCounts, frames)
		k.samples = make([]uint32, 1<<16)
		k.columns = make([][]int64, len(s.ColDiffs))
		for i := range k.columns {
			k.columns[i] = make([]int64, s.Width)
		}
	}
	return sw
}

// Strip adds whole rows from row y on of every frame, as the worker of that
// number; before is nil or the same rows of the frame before. It returns what
// the stack now holds of these pixels, valid until the worker's next strip.
func (sw *Sweep) Strip(worker, y int, before []uint16, batch [][]uint16) Pixels {
	k := &sw.workers[worker]
	s := sw.s
	n := len(batch[0])
	var px Pixels
	if sw.whole {
		if k.strip.Len() < n {
			k.strip = newPixels(n)
		}
		px = k.strip.Slice(0, n)
		px.clear()
	} else {
		px = s.pixels.Slice(y*s.Width, y*s.Width+n)
	}
	for at := 0; at < n; at += s.Width {
		sw.row(k, y, at, before, batch, px.Slice(at, at+s.Width))
		y++
	}
	px.N = s.Frames + sw.frames
	if sw.whole {
		px.samples = batch
	}
	return px
}

// Close takes what the workers counted into the stack.
func (sw *Sweep) Close() {
	sw.s.collect(sw)
	sw.s.Frames += sw.frames
	sw.s.pixels.N = sw.s.Frames
}

// row adds row y of every frame, which starts at sample at of its strip.
func (sw *Sweep) row(k *sweepWorker, y, at int, before []uint16, batch [][]uint16, px Pixels) {
	s := sw.s
	a, b := at, at+s.Width
	sum, sq, lo, hi := px.sum, px.sq, px.lo, px.hi
	mean := func(f int, total uint64) { s.RowMeans[s.Frames+f][y] = float32(float64(total) / float64(s.Width)) }
	f := 0
	if y%s.RowStep() != 0 {
		for ; sw.whole && f+4 <= len(batch); f += 4 {
			for i, total := range rangeRow4(batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b], sum, lo, hi) {
				mean(f+i, total)
			}
		}
		for ; f+4 <= len(batch); f += 4 {
			for i, total := range sumRow4(batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b], sum, sq, lo, hi) {
				mean(f+i, total)
			}
		}
		for ; f < len(batch); f++ {
			mean(f, sumRow1(batch[f][a:b], sum, sq, lo, hi))
		}
		return
	}
	for _, v := range batch[0][a:b] {
		k.samples[v]++
	}
	last := batch[0][a:b] // a difference of zero, thrown away when collected
	if sw.paired {
		last = before[a:b]
	}
	for ; f+4 <= len(batch); f += 4 {
		for i, total := range addRow4(last, batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b], sum, sq, lo, hi, k.counts[f:f+4]) {
			mean(f+i, total)
		}
		last = batch[f+3][a:b]
	}
	for ; f < len(batch); f++ {
		mean(f, addRow1(last, batch[f][a:b], sum, sq, lo, hi, &k.counts[f]))
		last = batch[f][a:b]
	}
	// Pair p of the series is frame p+1 minus frame p.
	for p := range k.columns {
		f := p + 1 - s.Frames // its later frame, counted in this batch
		if f < 0 || f >= len(batch) || (f == 0 && !sw.paired) {
			continue
		}
		from := before
		if f > 0 {
			from = batch[f-1]
		}
		addColumns(k.columns[p], from[a:b], batch[f][a:b])
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

// rangeRow4 is sumRow4 without the squares.
func rangeRow4(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) (total [4]uint64) {
	n := len(x0)
	x1, x2, x3 = x1[:n], x2[:n], x3[:n]
	sum, lo, hi = sum[:n], lo[:n], hi[:n]
	var t0, t1, t2, t3 uint64
	for i, v0 := range x0 {
		v1, v2, v3 := x1[i], x2[i], x3[i]
		lo[i] = min(lo[i], v0, v1, v2, v3)
		hi[i] = max(hi[i], v0, v1, v2, v3)
		a, b, c, d := uint64(v0), uint64(v1), uint64(v2), uint64(v3)
		sum[i] += uint32(a + b + c + d)
		t0 += a
		t1 += b
		t2 += c
		t3 += d
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

// collect turns the workers' counts of a sweep into figures.
func (s *Stack) collect(sw *Sweep) {
	firstFrame := NewHistogram(0, math.MaxUint16)
	for _, k := range sw.workers {
		for v, c := range k.samples {
			firstFrame.Counts[v] += uint64(c)
		}
	}
	s.Samples.Merge(firstFrame)
	if s.Frames == 0 {
		s.First = firstFrame.SigmaClip(PairClip)
	}
	h := NewHistogram(-math.MaxUint16, math.MaxUint16)
	for f := range sw.frames {
		if f == 0 && !sw.paired {
			continue
		}
		clear(h.Counts)
		for w := range sw.workers {
			counts := &sw.workers[w].counts[f]
			for i := range h.Counts {
				h.Counts[i] += uint64(counts[(i-math.MaxUint16)&diffMask])
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
	rows := float64((s.Height + s.RowStep() - 1) / s.RowStep())
	for p := range s.ColDiffs {
		for x := range s.ColDiffs[p] {
			for w := range sw.workers {
				s.ColDiffs[p][x] += float32(float64(sw.workers[w].columns[p][x]) / rows)
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

// Pixels are the sums of the whole frame; empty after a sweep of the whole series.
func (s *Stack) Pixels() Pixels { return s.pixels }

// Mean is the plain mean of pixel i.
func (p *Pixels) Mean(i int) float64 { return float64(p.sum[i]) / float64(p.N) }

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
	inverse := 1 / float64(p.N)
	calm := uint16(min(math.Floor(k*sigma), math.MaxUint16)) // a range that holds nothing to reject
	sum, lo, hi := p.sum[:len(dst)], p.lo[:len(dst)], p.hi[:len(dst)]
	for i := range dst {
		if hi[i]-lo[i] <= calm {
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
