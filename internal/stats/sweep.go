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
				sw.Strip(w, y, s.Width, first).Add(rows...)
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
	pixels  Pixels // of a strip
	strip   Strip
}

// Strip is some rows of all frames of a sweep, in the hands of one worker.
type Strip struct {
	sw     *Sweep
	k      *sweepWorker
	y, n   int
	pixels Pixels
	before []uint16
	frames [][]uint16
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

// Strip begins whole rows from row y on, n samples of every frame, as the worker of that
// number; before is nil or the same rows of the frame before. It is valid until the
// worker's next.
func (sw *Sweep) Strip(worker, y, n int, before []uint16) *Strip {
	k := &sw.workers[worker]
	k.strip = Strip{sw: sw, k: k, y: y, n: n, before: before, frames: k.strip.frames[:0]}
	st := &k.strip
	if sw.whole {
		if k.pixels.Len() < n {
			k.pixels = newPixels(n)
		}
		st.pixels = k.pixels.Slice(0, n)
		st.pixels.clear()
	} else {
		st.pixels = sw.s.pixels.Slice(y*sw.s.Width, y*sw.s.Width+n)
	}
	return st
}

// Add adds these rows of the next frames, four at a time fastest.
func (st *Strip) Add(frames ...[]uint16) {
	from := len(st.frames)
	st.frames = append(st.frames, frames...)
	for at, y := 0, st.y; at < st.n; at, y = at+st.sw.s.Width, y+1 {
		st.row(y, at, from)
	}
}

// Pixels is what the stack holds of the strip's pixels, once all frames are added.
func (st *Strip) Pixels() Pixels {
	px := st.pixels
	px.N = st.sw.s.Frames + st.sw.frames
	if st.sw.whole {
		px.samples = st.frames
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

// row adds row y of the frames from a number on, which starts at sample at of the strip.
func (st *Strip) row(y, at, from int) {
	s, k := st.sw.s, st.k
	a, b := at, at+s.Width
	px := st.pixels.Slice(a, b)
	sum, sq, lo, hi := px.sum, px.sq, px.lo, px.hi
	mean := func(f int, total uint64) { s.RowMeans[s.Frames+f][y] = float32(float64(total) / float64(s.Width)) }
	counted := y%s.RowStep() == 0
	f, all := from, st.frames
	for ; f+4 <= len(all); f += 4 {
		x0, x1, x2, x3 := all[f][a:b], all[f+1][a:b], all[f+2][a:b], all[f+3][a:b]
		for i, total := range rangeRow4(x0, x1, x2, x3, sum, lo, hi) {
			mean(f+i, total)
		}
		if counted || !st.sw.whole {
			squareRow4(x0, x1, x2, x3, sq)
		}
		if counted {
			countRow4(st.last(f)[a:b], x0, x1, x2, x3, k.counts[f:f+4])
		}
	}
	for ; f < len(all); f++ {
		x := all[f][a:b]
		mean(f, sumRow1(x, sum, sq, lo, hi))
		if counted {
			countRow1(st.last(f)[a:b], x, &k.counts[f])
		}
	}
	if !counted {
		return
	}
	if from == 0 {
		for _, v := range all[0][a:b] {
			k.samples[v]++
		}
	}
	st.pairs(a, b, from)
}

// last is the frame before one, or the first itself, which gives differences of zero, thrown
// away when collected.
func (st *Strip) last(f int) []uint16 {
	switch {
	case f > 0:
		return st.frames[f-1]
	case st.sw.paired:
		return st.before
	}
	return st.frames[0]
}

// pairs adds the row in [a, b) of the pairs whose later frame is one from a number on: pair p
// of the series is frame p+1 minus frame p.
func (st *Strip) pairs(a, b, from int) {
	for p := range st.k.columns {
		f := p + 1 - st.sw.s.Frames // its later frame, counted in this sweep
		if f < from || f >= len(st.frames) || (f == 0 && !st.sw.paired) {
			continue
		}
		addColumns(st.k.columns[p], st.last(f)[a:b], st.frames[f][a:b])
	}
}
