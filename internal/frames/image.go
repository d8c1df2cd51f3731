package frames

import (
	"slices"

	"fitsqa/internal/stats"
)

// Image is decoded pixels, plane after plane, row after row, in physical units
// (BZERO and BSCALE applied). Exactly one of U16 and F32 is set: U16 when every
// sample is stored as a whole number that fits in 16 unsigned bits (what
// cameras write), F32 otherwise, with NaN for blank and infinite pixels.
// Buffers are reused from call to call by Frame.Read and Reader.Rows.
type Image struct {
	Width, Height, Planes int
	U16                   []uint16
	F32                   []float32

	spareU16 []uint16 // the buffer of the kind not in use
	spareF32 []float32
}

// Float32 is one plane's pixels as float32, written to dst when it is large
// enough, else to a new slice.
func (im *Image) Float32(plane int, dst []float32) []float32 {
	n := im.Width * im.Height
	if cap(dst) < n {
		dst = make([]float32, n)
	}
	dst = dst[:n]
	if im.U16 == nil {
		copy(dst, im.F32[plane*n:(plane+1)*n])
		return dst
	}
	for i, v := range im.U16[plane*n : (plane+1)*n] {
		dst[i] = float32(v)
	}
	return dst
}

// startU16 empties the image for samples of 16 bits.
func (im *Image) startU16() {
	if im.U16 == nil {
		im.U16 = im.spareU16
	}
	if im.F32 != nil {
		im.spareF32, im.F32 = im.F32, nil
	}
	if im.U16 == nil {
		im.U16 = []uint16{}
	}
	im.U16 = im.U16[:0]
}

// startF32 empties the image for floating-point samples.
func (im *Image) startF32() {
	if im.F32 == nil {
		im.F32 = im.spareF32
	}
	if im.U16 != nil {
		im.spareU16, im.U16 = im.U16, nil
	}
	if im.F32 == nil {
		im.F32 = []float32{}
	}
	im.F32 = im.F32[:0]
}

// reserve makes room for n more samples in one step.
func (im *Image) reserve(n int) {
	if im.U16 != nil {
		if cap(im.U16)-len(im.U16) < n {
			stats.MakeWay(2 * (len(im.U16) + n))
		}
		im.U16 = slices.Grow(im.U16, n)
	} else {
		if cap(im.F32)-len(im.F32) < n {
			stats.MakeWay(4 * (len(im.F32) + n))
		}
		im.F32 = slices.Grow(im.F32, n)
	}
}

// more makes a list longer by n samples, and gives these.
func more[T any](list *[]T, n int) []T {
	old := len(*list)
	*list = slices.Grow(*list, n)[:old+n]
	return (*list)[old:]
}

// becomeF32 turns the samples so far into floating point, with room for more.
func (im *Image) becomeF32(room int) {
	short := im.U16
	im.startF32()
	im.reserve(room)
	for _, v := range short {
		im.F32 = append(im.F32, float32(v))
	}
}

// settle makes floating-point samples that are all whole numbers of 0 to
// 65535 into 16-bit ones.
func (im *Image) settle() {
	if im.F32 == nil || !allWhole(im.F32) {
		return
	}
	whole := im.F32
	im.startU16()
	im.reserve(len(whole))
	for _, v := range whole {
		im.U16 = append(im.U16, uint16(v))
	}
}

// allWhole tells whether every sample is a whole number of 0 to 65535; not of
// an empty image.
func allWhole(px []float32) bool {
	for _, v := range px {
		if !(v >= 0 && v <= 65535) || float32(uint16(v)) != v {
			return false
		}
	}
	return len(px) > 0
}
