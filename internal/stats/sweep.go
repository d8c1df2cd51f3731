package stats

import (
	"math"
	"sync"
)

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
	parts := make([]*diffCounts, len(sw.workers))
	for f := range sw.frames {
		if f == 0 && !sw.paired {
			continue
		}
		for w := range sw.workers {
			parts[w] = &sw.workers[w].counts[f]
		}
		h := histogram(parts)
		pair := h.SigmaClip(PairClip)
		s.Pairs = append(s.Pairs, pair)
		// Rounding the mean keeps the pooled histogram one of whole numbers.
		shift := int(math.Round(pair.Mean))
		for i, c := range h.Counts {
			if c != 0 {
				s.Diff.Counts[min(max(h.Min+i-shift-s.Diff.Min, 0), len(s.Diff.Counts)-1)] += c
			}
		}
	}
	rows := float64((s.Height + s.RowStep() - 1) / s.RowStep())
	for p := range s.ColDiffs {
		for x := range s.ColDiffs[p] {
			var total int64 // whole numbers: the sum is the same however the rows were shared out
			for w := range sw.workers {
				total += sw.workers[w].columns[p][x]
			}
			s.ColDiffs[p][x] += float32(float64(total) / rows)
		}
	}
}

// row adds row y of every frame, which starts at sample at of its strip.
func (sw *Sweep) row(k *sweepWorker, y, at int, before []uint16, batch [][]uint16, px Pixels) {
	s := sw.s
	a, b := at, at+s.Width
	sum, sq, lo, hi := px.sum, px.sq, px.lo, px.hi
	mean := func(f int, total uint64) { s.RowMeans[s.Frames+f][y] = float32(float64(total) / float64(s.Width)) }
	counted := y%s.RowStep() == 0
	last := batch[0][a:b] // a difference of zero, thrown away when collected
	if sw.paired {
		last = before[a:b]
	}
	f := 0
	for ; f+4 <= len(batch); f += 4 {
		x0, x1, x2, x3 := batch[f][a:b], batch[f+1][a:b], batch[f+2][a:b], batch[f+3][a:b]
		for i, total := range rangeRow4(x0, x1, x2, x3, sum, lo, hi) {
			mean(f+i, total)
		}
		if counted || !sw.whole {
			squareRow4(x0, x1, x2, x3, sq)
		}
		if counted {
			countRow4(last, x0, x1, x2, x3, k.counts[f:f+4])
			last = x3
		}
	}
	for ; f < len(batch); f++ {
		x := batch[f][a:b]
		mean(f, sumRow1(x, sum, sq, lo, hi))
		if counted {
			countRow1(last, x, &k.counts[f])
			last = x
		}
	}
	if !counted {
		return
	}
	for _, v := range batch[0][a:b] {
		k.samples[v]++
	}
	sw.pairs(k, a, b, before, batch)
}

// pairs adds the row in [a, b) of the pairs whose later frame is in this batch: pair p of
// the series is frame p+1 minus frame p.
func (sw *Sweep) pairs(k *sweepWorker, a, b int, before []uint16, batch [][]uint16) {
	for p := range k.columns {
		f := p + 1 - sw.s.Frames // its later frame, counted in this batch
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
