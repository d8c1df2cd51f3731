package frames

import (
	"math/bits"

	"fitsqa/internal/stats"
)

// errLowByteFirst is the error of samples of 16 bits that were stored in the order of the
// writing machine, with the low byte first; FITS has the high one first (FITS 4.0 section
// 5.2). What is noise to a sensor then stands in the high bytes, 256 times as large.
var errLowByteFirst = &UnsupportedError{"samples stored with their low byte first, against the standard"}

// lowByteFirst compares the strip's neighbours as they are read with what they were with
// their bytes exchanged. Samples whose low bytes are all zero are 8 bits moved up, or could
// be so few units that nothing tells.
func (u *unit) lowByteFirst(px []float32) bool {
	if u.bitpix != 16 || u.scale != 1 || len(px) < 64 {
		return false
	}
	const many = 2048
	step := max(1, len(px)/many)
	var read, other []float32
	low := uint16(0)
	for i := 1; i < len(px); i += step {
		a, b := uint16(int32(px[i-1])-int32(u.zero)), uint16(int32(px[i])-int32(u.zero))
		low |= a
		read = append(read, distance(int16(a), int16(b)))
		other = append(other, distance(int16(bits.ReverseBytes16(a)), int16(bits.ReverseBytes16(b))))
	}
	const midway = 16 // of 1 and 256
	return low&0xff != 0 && stats.MedianInPlace(read) > midway*max(stats.MedianInPlace(other), 1)
}

func distance(a, b int16) float32 {
	d := float32(a) - float32(b)
	return max(d, -d)
}
