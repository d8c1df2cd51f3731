package frames

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
)

// Shown is what a few rows of a frame's pixels show: of copies the same, whatever their
// headers say, and of hardly any others.
type Shown struct {
	width, height int
	look          look
}

// Shown is what was seen of the frame when it was scanned.
func (f *Frame) Shown() Shown {
	s := Shown{f.Image.Width, f.Image.Height, f.look}
	s.look.stars = 0 // sought more closely where no header names the kind
	return s
}

// ContentHash is a digest of the image's stored samples and their coding, and
// of nothing else: copies of a frame agree whatever their names, headers or
// lossless compression (gzip, tiles). It reads the whole file; ask for it only
// where shape, exposure and time leave a duplicate possible.
func (f *Frame) ContentHash() (sum [32]byte, err error) {
	defer CatchPanic(&err)
	err = Again(func() error {
		sum, err = f.contentHash()
		return err
	})
	return sum, err
}

func (f *Frame) contentHash() ([32]byte, error) {
	r, err := f.Open()
	if err != nil {
		return [32]byte{}, err
	}
	defer r.Close()
	h := sha256.New()
	for _, v := range []float64{float64(r.Width), float64(r.Height), float64(r.Planes), float64(r.Bitpix), r.u.scale, r.u.zero} {
		var b [8]byte
		binary.BigEndian.PutUint64(b[:], math.Float64bits(v))
		h.Write(b[:])
	}
	strip := max(1, stripBytes/int(r.stride()))
	for left := r.rows(); left > 0; {
		raw, n, err := r.raw(min(left, strip))
		if err != nil {
			return [32]byte{}, err
		}
		h.Write(raw)
		left -= n
	}
	return [32]byte(h.Sum(nil)), nil
}
