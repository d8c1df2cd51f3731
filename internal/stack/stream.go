package stack

import (
	"fmt"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// batchBytes is how much decoded data of a series is held at once. A series is
// streamed: its length costs time, not memory.
const batchBytes = 128 << 20

// seriesBatch is how many frames of so many pixels are held at once, beside one more.
func seriesBatch(frames, pixels int) int {
	size := min(frames, max(2, min(16, batchBytes/max(1, 2*pixels))))
	// Batches of about the same size: the last one is used to confirm hot pixels.
	return (frames + (frames+size-1)/size - 1) / ((frames + size - 1) / size)
}

// wholeBytes is what the sums of whole frames take, with the frames in hand: for
// each pixel 16 bytes of sums, 4 of the mean, and 2 of every frame, or 6 where its
// samples are no whole numbers of 16 bits.
func wholeBytes(fs []*frames.Frame) int64 {
	l := fs[0].Image
	sample := int64(2)
	if l.Bitpix != 16 {
		sample = 6
	}
	return int64(l.Pixels())*(20+sample*int64(seriesBatch(len(fs), l.Pixels())+1)) + l.Unpacking
}

// Sample is one frame of a series with its pixels.
type Sample struct {
	Frame *frames.Frame
	X     []uint16 // in units of the reader; valid until the next batch but one
}

// Stream reads frames of one size in order and hands them on in batches, each
// with the sample that came before it (nil for the first). A frame that cannot
// be read is left out and named in failed.
func (st *Stacker) Stream(fs []*frames.Frame, each func(unit Scale, before *Sample, batch []*Sample)) (unit Scale, failed []string, err error) {
	pixels := fs[0].Image.Pixels()
	size := seriesBatch(len(fs), pixels)
	r := &reader{read: st.read, width: fs[0].Image.Width, height: fs[0].Image.Height}
	images := make([]frames.Image, size+1)
	buffers := make([][]uint16, size+1)
	samples := make([]Sample, size+1)
	var before *Sample
	for at := 0; at < len(fs); at += size {
		part := fs[at:min(at+size, len(fs))]
		errs := make([]error, len(part))
		load := func(i int) {
			if errs[i] = st.ctx.Err(); errs[i] != nil {
				return
			}
			slot := i + 1 // slot 0 holds the sample before
			samples[slot].Frame = part[i]
			samples[slot].X, errs[i] = r.samples(part[i], &images[slot], &buffers[slot])
		}
		first := 0
		for ; !r.fixed && first < len(part); first++ { // the first readable frame settles the scale of all
			load(first)
		}
		parallel.Items(len(part)-first, st.opt.Workers, func(i int) { load(first + i) })
		if st.ctx.Err() != nil {
			return r.scale, failed, st.ctx.Err()
		}
		var batch []*Sample
		last := 0
		for i := range part {
			st.step()
			if errs[i] != nil {
				failed = append(failed, fmt.Sprintf("%s: %v", part[i].Name, errs[i]))
				continue
			}
			batch = append(batch, &samples[i+1])
			last = i + 1
		}
		if len(batch) == 0 {
			continue
		}
		each(r.scale, before, batch)
		images[0], images[last] = images[last], images[0]
		buffers[0], buffers[last] = buffers[last], buffers[0]
		samples[0], samples[last] = samples[last], samples[0]
		before = &samples[0]
	}
	return r.scale, failed, nil
}

// Scale turns the whole numbers that a series is measured in into ADU:
// Zero + Step x. Whole numbers of 16 bits are taken as they are.
type Scale struct{ Zero, Step float64 }

// Whole is the scale of whole numbers of 16 bits.
var Whole = Scale{0, 1}

// reader turns frames into whole numbers of 16 bits. Floating-point frames that
// hold whole numbers are shifted, others are divided so finely that the noise
// spans many steps.
type reader struct {
	read          func(*frames.Frame, *frames.Image) error
	width, height int
	scale         Scale
	fixed         bool
}

func (r *reader) samples(f *frames.Frame, im *frames.Image, buf *[]uint16) ([]uint16, error) {
	if err := r.read(f, im); err != nil {
		return nil, err
	}
	if im.Planes > 1 {
		return nil, &frames.UnsupportedError{Feature: "a colour cube is no single exposure"}
	}
	if im.Width != r.width || im.Height != r.height {
		return nil, fmt.Errorf("the image is %dx%d px where the header said %dx%d", im.Width, im.Height, r.width, r.height)
	}
	if !r.fixed {
		r.scale, r.fixed = chooseScale(im), true
	}
	if im.U16 != nil && r.scale == Whole {
		return im.U16, nil
	}
	n := im.Width * im.Height
	if cap(*buf) < n {
		*buf = make([]uint16, n)
	}
	out := (*buf)[:n]
	for i := range out {
		var v float64
		if im.U16 != nil {
			v = float64(im.U16[i])
		} else {
			v = float64(im.F32[i])
		}
		q := (v-r.scale.Zero)/r.scale.Step + 0.5
		switch {
		case !(q > 0): // blank (NaN) pixels as well
			out[i] = 0
		case q >= math.MaxUint16:
			out[i] = math.MaxUint16
		default:
			out[i] = uint16(q)
		}
	}
	return out, nil
}

// chooseScale finds the scale that fits an image's samples.
func chooseScale(im *frames.Image) Scale {
	if im.U16 != nil {
		return Whole
	}
	lo, hi, integers := math.Inf(1), math.Inf(-1), true
	stride := max(1, len(im.F32)/1_000_000)
	var some []float32
	for i := 0; i < len(im.F32); i += stride {
		v := float64(im.F32[i])
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		lo, hi = min(lo, v), max(hi, v)
		integers = integers && v == math.Trunc(v)
		some = append(some, im.F32[i])
	}
	switch {
	case len(some) == 0:
		return Whole
	case integers && lo >= 0 && hi <= math.MaxUint16:
		return Whole
	case integers && lo >= -8192 && hi <= math.MaxUint16-16384:
		return Scale{-16384, 1}
	}
	// 64 steps a sigma leave quantisation out of account; the range below the
	// lowest tenth of a percent and above the highest is cut off.
	sigma := stats.MADSigma(some)
	low, high := stats.Quantile(some, 0.001), stats.Quantile(some, 0.999)
	step := max(sigma/64, (high-low)/20000, math.SmallestNonzeroFloat32)
	return Scale{low - 20000*step, step}
}
