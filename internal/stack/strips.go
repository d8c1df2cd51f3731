package stack

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// SideBySide is how many files are read side by side, whatever the number of
// workers: what is measured must not depend on it. A longer series needs sums of
// the whole frame.
const SideBySide = 512

// Every worker opens its own files, all together no more than openFiles, and unpacks
// those that are packed from the beginning, so that few may be at these.
const (
	openFiles     = 4 * SideBySide
	packedWorkers = 4
)

// stripWorkers is how many may be at some files.
func stripWorkers(fs []*frames.Frame) int {
	if slices.ContainsFunc(fs, func(f *frames.Frame) bool { return f.Image.Compression != "" }) {
		return packedWorkers
	}
	return openFiles / min(len(fs), SideBySide)
}

// A strip of all frames stays in the processor's cache from decoding to the
// last sum: stripSamples, where that leaves readBytes of each frame at a time,
// because shorter reads cost more by the call than by the byte; never more than
// maxStripSamples, however long the series.
const (
	stripSamples    = 512 << 10
	readBytes       = 64 << 10
	maxStripSamples = 8 << 20
)

// stripRows is how many rows of so many frames are taken at a time.
func stripRows(width, frames int) int {
	row := width * frames
	n := max(stripSamples/row, (readBytes/2+width-1)/width)
	return max(1, min(n, maxStripSamples/row))
}

// scoutRows is how many rows of so many frames are looked at beforehand for the noise.
const scouts, scoutRows = 6, 48

// Strips streams files of whole 16-bit samples side by side, a few
// rows of every frame at a time: each sample is touched while it is in the
// cache, and no sums but those of the strip are held. Plain files are always
// read so; others, which every worker unpacks from the beginning, where sums of
// whole frames would take too much memory. It tells false when the
// files are of another kind or one of them fails; nothing is lost then but time.
// prepare, if any, changes the samples of a frame from a pixel on before they count.
func (st *Stacker) Strips(r *Series, fs []*frames.Frame, prepare func(frame, first int, x []uint16)) (bool, error) {
	if !st.sideBySide(fs) {
		return false, nil
	}
	width, height := fs[0].Image.Width, fs[0].Image.Height
	few := len(fs) <= SideBySide
	if !few {
		if err := st.RoomForWhole(fs); err != nil {
			return false, err
		}
	}
	sums := stats.NewStack(width, height)
	sigma, ok := scoutNoise(fs, width, height, st.opt.Workers, prepare)
	if !ok {
		return false, nil
	}
	w := stripsWork{Stacker: st, sums: sums, width: width, height: height, prepare: prepare, whole: few, workers: max(1, min(st.opt.Workers, height, stripWorkers(fs)))}
	if few {
		w.finish = newFinisher(stats.Floats(width*height), width, sums.RowStep(), len(fs), sigma, st.opt.Workers)
	}
	for from := 0; from < len(fs); from += SideBySide {
		// The frame before the part comes along; none for the first.
		if ok, err := w.part(fs[max(0, from-1):min(from+SideBySide, len(fs))], from); !ok || err != nil {
			return false, err
		}
	}
	r.Frames = append(r.Frames, fs...)
	r.Sums, r.Unit = sums, Whole
	if w.finish != nil {
		w.finish.into(r)
	}
	return true, nil
}

type stripsWork struct {
	*Stacker
	sums          *stats.Stack
	finish        *finisher // nil where one part is not all of the series
	width, height int
	whole         bool // one part is all of the series
	workers       int
	prepare       func(frame, first int, x []uint16)
}

// part streams the frames that are read side by side, from number from of the series on,
// which in all parts but the first follow one that is known already; false where a file
// fails.
func (w *stripsWork) part(open []*frames.Frame, from int) (bool, error) {
	before := min(from, 1)
	n := len(open) - before
	sweep := w.sums.Sweep(n, from > 0, w.whole, w.workers)
	var failed atomic.Bool
	var wg sync.WaitGroup
	for k := range w.workers {
		wg.Go(func() {
			s := sideBySideRows{open: open, width: w.width, prepare: w.prepare, first: from - before}
			var strip *stats.Strip
			err := s.run(w.height*k/w.workers, w.height*(k+1)/w.workers, func(y, at int, rows [][]uint16) error {
				some := rows[at:]
				if at == 0 {
					var first []uint16
					if from > 0 {
						first, some = some[0], some[1:]
					}
					strip = sweep.Strip(k, y, len(rows[0]), first)
				}
				strip.Add(some...)
				if w.finish != nil && len(rows) == len(open) {
					w.finish.strip(k, y, strip.Pixels())
				}
				if failed.Load() {
					return errStopped
				}
				return w.ctx.Err()
			})
			if err != nil {
				failed.Store(true)
			}
		})
	}
	wg.Wait()
	if err := w.ctx.Err(); err != nil {
		return false, err
	}
	if failed.Load() {
		return false, nil
	}
	sweep.Close()
	for range n {
		w.step()
	}
	return true, nil
}

// Rows calls do with a few rows at a time of all frames, from the first pixel of
// them on, where files can be read as Strips does; it tells false where they
// cannot, or one of them fails on the way.
func (st *Stacker) Rows(fs []*frames.Frame, do func(first int, rows [][]uint16)) bool {
	if len(fs) > SideBySide || !st.sideBySide(fs) {
		return false
	}
	s := sideBySideRows{open: fs, width: fs[0].Image.Width}
	return s.run(0, fs[0].Image.Height, func(y, _ int, rows [][]uint16) error {
		if len(rows) == len(fs) {
			do(y*s.width, rows)
		}
		return st.ctx.Err()
	}) == nil
}

func (st *Stacker) sideBySide(fs []*frames.Frame) bool {
	return st.opt.Read == nil && sideBySideFit(fs, st.opt.Memory > 0 && wholeBytes(fs) > st.opt.Memory)
}

// sideBySideFit tells whether all frames are files of 16-bit samples, plain or of
// any kind.
func sideBySideFit(fs []*frames.Frame, packed bool) bool {
	var unpacking int64
	for _, f := range fs {
		if unpacking += f.Image.Unpacking; unpacking > batchBytes {
			return false
		}
		if l := f.Image; l.Bitpix != 16 || l.Compression != "" && !packed || l.Planes != 1 || l.Width != fs[0].Image.Width || l.Height != fs[0].Image.Height {
			return false
		}
	}
	return true
}

// scoutNoise is the noise of one frame by a few rows from all over the first
// frames, good enough to reject outliers by.
func scoutNoise(fs []*frames.Frame, width, height, workers int, prepare func(frame, first int, x []uint16)) (sigma float64, ok bool) {
	all := make([][]uint16, min(len(fs), scouts))
	rows := min(scoutRows, height)
	parallel.Items(len(all), workers, func(k int) {
		all[k] = scout(fs[k], width, height, rows, func(first int, x []uint16) {
			if prepare != nil {
				prepare(k, first, x)
			}
		})
	})
	for _, x := range all {
		if len(x) != width*rows {
			return 0, false
		}
	}
	st := stats.NewStack(width, rows)
	st.Add(nil, all, workers)
	if len(all) < 2 {
		return math.NaN(), true
	}
	var sum float64
	for _, p := range st.Pairs {
		sum += p.SD * p.SD / 2
	}
	return math.Sqrt(sum / float64(len(st.Pairs))), true
}

// scout reads so many rows from all over a frame, fewer where that fails.
func scout(f *frames.Frame, width, height, rows int, prepare func(first int, x []uint16)) (samples []uint16) {
	r, err := f.Open()
	if err != nil {
		return nil
	}
	defer r.Close()
	if !r.WholeNumbers() {
		return nil
	}
	var im frames.Image
	for i := range rows {
		at := height * i / rows
		if _, err := r.Rows(&im, 1); err != nil || len(im.U16) != width {
			break
		}
		prepare(at*width, im.U16)
		samples = append(samples, im.U16...)
		r.Skip(height*(i+1)/rows - at - 1)
	}
	return samples
}

var errStopped = fmt.Errorf("another goroutine failed")

type sideBySideRows struct {
	open    []*frames.Frame
	width   int
	prepare func(frame, first int, x []uint16) // nil: nothing to do
	first   int                                // number of the first of open, for prepare
}

// atOnce is of how many frames samples are added at once, while they are in the processor's
// second cache, which does not hold those of all.
const atOnce = 4

// run calls do with the same rows of every frame, from row from up to row to: as soon as
// some are read, with all that are; those from number at on are new.
func (s *sideBySideRows) run(from, to int, do func(y, at int, rows [][]uint16) error) error {
	readers := make([]*frames.Reader, 0, len(s.open))
	defer func() {
		for _, r := range readers {
			r.Close()
		}
	}()
	for _, f := range s.open {
		r, err := f.Open()
		if err != nil {
			return err
		}
		readers = append(readers, r)
		r.Share(readers[0])
		r.Skip(from)
	}
	images := make([]frames.Image, len(readers))
	rows := make([][]uint16, len(readers))
	n := stripRows(s.width, len(readers))
	for y := from; y < to; y += n {
		at := 0
		for i, r := range readers {
			want := min(n, to-y)
			got, err := r.Rows(&images[i], want)
			if err != nil {
				return err
			}
			if got != want || len(images[i].U16) != want*s.width {
				return fmt.Errorf("%s: %d of %d rows", s.open[i].Name, got, want)
			}
			rows[i] = images[i].U16
			if s.prepare != nil {
				s.prepare(s.first+i, y*s.width, rows[i])
			}
			if i+1-at < atOnce && i+1 < len(readers) {
				continue
			}
			if err := do(y, at, rows[:i+1]); err != nil {
				return err
			}
			at = i + 1
		}
	}
	return nil
}

// RoomForWhole tells by an error where sums of whole frames would take more memory
// than a set may.
func (st *Stacker) RoomForWhole(fs []*frames.Frame) error {
	if need := wholeBytes(fs); st.opt.Memory > 0 && need > st.opt.Memory {
		return fmt.Errorf("stacking frames this large that are not of plain 16 bits, or more than %d of them, takes %d MiB, more than --memory allows", SideBySide, need>>20)
	}
	return nil
}
