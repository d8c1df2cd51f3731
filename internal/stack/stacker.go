// Package stack streams series of equal frames and makes of each the mean of every
// pixel, the level of every frame, and the noise of one.
//
// Model: the frames of a series differ by white noise, the same in all pixels, by
// their levels, and by particle hits, one a pixel. Frames whose level stands out are
// left out, and so are copies and frames that were combined from several; samples
// beyond five sigma of the noise are left out of the mean.
//
// Memory does not grow with the number of frames. Plain 16-bit files are read side
// by side in strips of rows, others frame by frame. What is measured does not depend
// on the number of goroutines.
//
// Sources: EMVA Standard 1288 release 3.1 (2016) for the temporal variance of two
// images; von Neumann et al. (1941) for the scatter of successive differences. Both
// from memory.
package stack

import (
	"context"
	"errors"
	"fmt"
	"iter"

	"golang.org/x/sync/errgroup"

	"fitsqa/internal/frames"
)

// Options are how series are read.
type Options struct {
	Workers int
	Memory  int64 // bytes that the work on one series may take; 0: any

	// Read is how a frame is read; nil: Frame.Read. Tests put frames made in memory here.
	Read     func(*frames.Frame, *frames.Image) error
	Progress func(done, total int) // called from one goroutine at a time; may be nil
}

// Stacker reads series of frames, and tells how far it is.
type Stacker struct {
	ctx         context.Context
	opt         Options
	done, total int // frames read, and to be read
}

// New reads until ctx ends.
func New(ctx context.Context, opt Options) *Stacker {
	return &Stacker{ctx: ctx, opt: opt}
}

// Expect counts n more frames among those to be read.
func (st *Stacker) Expect(n int) { st.total += n }

func (st *Stacker) read(f *frames.Frame, im *frames.Image) error {
	if st.opt.Read != nil {
		return st.opt.Read(f, im)
	}
	return f.Read(im)
}

var errOtherShape = errors.New("it is not one plane of the size that its header tells")

// Raw is the pixels of a frame as they are, of one plane of the size given.
func (st *Stacker) Raw(f *frames.Frame, width, height int) ([]float32, error) {
	var im frames.Image
	if err := st.read(f, &im); err != nil {
		return nil, fmt.Errorf("it cannot be read: %w", err)
	}
	if im.Planes != 1 || im.Width != width || im.Height != height {
		return nil, errOtherShape
	}
	return im.Float32(0, nil), nil
}

// walkSamples is about how many samples Walk hands on at a time.
const walkSamples = 128 << 10

// walkers are at one file at most: what each of them counts takes memory.
const walkers = 8

// Walk hands on one frame's rows, some at a time, each strip valid until the next: a
// plain file in parts, each to a call of do of its own, several of them at once.
func (st *Stacker) Walk(f *frames.Frame, do func(part iter.Seq[*frames.Image])) error {
	if st.opt.Read != nil {
		var im frames.Image
		err := st.opt.Read(f, &im)
		if err == nil {
			do(func(yield func(*frames.Image) bool) { yield(&im) })
		}
		return err
	}
	workers := 1
	if f.Image.Compression == "" {
		workers = max(1, min(st.opt.Workers, walkers))
	}
	rows := f.Image.Height * f.Image.Planes
	var all errgroup.Group
	for w := range workers {
		all.Go(func() (err error) {
			do(func(yield func(*frames.Image) bool) { err = walkRows(f, rows*w/workers, rows*(w+1)/workers, yield) })
			return err
		})
	}
	return all.Wait()
}

func walkRows(f *frames.Frame, from, to int, yield func(*frames.Image) bool) error {
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	r.Skip(from)
	var im frames.Image
	for from < to {
		n, err := r.Rows(&im, min(to-from, max(1, walkSamples/r.Width)))
		if err != nil {
			return err
		}
		if !yield(&im) {
			return nil
		}
		from += n
	}
	return nil
}

// step tells the caller that one more frame has been read.
func (st *Stacker) step() {
	st.done++
	if st.opt.Progress != nil {
		st.total = max(st.total, st.done) // a series with outliers is read twice
		st.opt.Progress(st.done, st.total)
	}
}

// Detach lets what is read from now on go on when the context has ended, untold.
func (st *Stacker) Detach() {
	st.ctx = context.WithoutCancel(st.ctx)
	st.opt.Progress = nil
}
