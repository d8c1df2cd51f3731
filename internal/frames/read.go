package frames

import (
	"slices"

	"fitsqa/internal/stats"
)

// Read decodes the frame's first image into im, reusing its buffers. Overscan
// that the header marks is trimmed. The error is of the same kinds as
// Frame.Err.
func (f *Frame) Read(im *Image) (err error) {
	defer CatchPanic(&err)
	return Again(func() error { return f.read(im) })
}

func (f *Frame) read(im *Image) error {
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	im.Width, im.Height, im.Planes = r.Width, r.Height, r.Planes
	return r.fill(im, r.rows())
}

// ReadPlane decodes one plane of the frame's first image to float32, into dst
// when that is large enough, and returns the slice (after an error too, to be
// used again). each, when not nil, is handed the rows strip by strip while they
// are still in the processor's cache, with the number of the strip's first row and a
// value that none of its pixels exceeds; it may change them. Overscan and errors are as in Read, but nothing is read
// again: see Again.
func (f *Frame) ReadPlane(plane int, dst []float32, each func(first int, rows []float32, top float32)) (read []float32, err error) {
	defer CatchPanic(&err)
	r, err := f.Open()
	if err != nil {
		return dst, err
	}
	defer r.Close()
	r.Skip(plane * r.Height)
	dst = dst[:0]
	for y := 0; y < r.Height; {
		raw, n, err := r.raw(min(r.strip(), r.Height-y))
		if err != nil {
			return dst, err
		}
		if total := r.Height * r.Width; cap(dst) < total && r.provenBy(len(dst), total) {
			dst = append(stats.Floats(total)[:0], dst...)
		}
		old := len(dst)
		dst = slices.Grow(dst, n*r.Width)[:old+n*r.Width]
		top := r.float(dst[old:], raw)
		if each != nil {
			each(y, dst[old:], top)
		}
		y += n
	}
	// A compressed file may be damaged further on.
	return dst, r.passRest()
}
