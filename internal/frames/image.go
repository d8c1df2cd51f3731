package frames

// Image is decoded pixels, plane after plane, row after row, in physical units
// (BZERO and BSCALE applied). Exactly one of U16 and F32 is set: U16 when every
// sample is stored as a whole number that fits in 16 unsigned bits (what
// cameras write), F32 otherwise, with NaN for blank pixels. Buffers are reused
// from call to call by Frame.Read.
type Image struct {
	Width, Height, Planes int
	U16                   []uint16
	F32                   []float32
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
