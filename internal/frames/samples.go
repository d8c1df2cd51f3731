package frames

import (
	"encoding/binary"
	"math"
)

// wholeSamples tells whether the coding alone makes every sample a whole
// number of 0 to 65535: unsigned bytes, and 16 bits with the unsigned
// convention (BZERO 32768, FITS 4.0 table 11).
func (u *unit) wholeSamples() bool {
	if u.scale != 1 || u.hasBlank {
		return false
	}
	return u.bitpix == 8 && u.zero == 0 || u.bitpix == 16 && u.zero == 32768
}

// shortSamples tells whether samples can be decoded straight to 16 unsigned
// bits, some of them perhaps being negative after all.
func (u *unit) shortSamples() bool {
	return u.wholeSamples() || u.bitpix == 16 && u.scale == 1 && u.zero == 0 && !u.hasBlank
}

// decodeU16 decodes stored samples of a unit with shortSamples. It returns
// false when one of them is negative.
func (u *unit) decodeU16(dst []uint16, src []byte) bool {
	if u.bitpix == 8 {
		for i, b := range src {
			dst[i] = uint16(b)
		}
		return true
	}
	if u.zero == 32768 {
		decodeShorts(dst, src, 0x8000)
		return true
	}
	return decodeShorts(dst, src, 0)&0x8000 == 0
}

// decodeF32 decodes stored samples of any coding to physical values, NaN where
// a sample is blank, not a number or infinite. Integers beyond 2^24 lose
// precision, which is float32's own. None is higher than top, which is infinite where it
// costs to be told.
func (u *unit) decodeF32(dst []float32, src []byte) (top float32) {
	top = float32(math.Inf(1))
	switch u.bitpix {
	case 8:
		for i := range dst {
			dst[i] = u.physical(int64(src[i]))
		}
	case 16:
		if u.shortSamples() {
			return float32(int32(floatShorts(dst, src, int32(u.zero))) + int32(u.zero))
		}
		for i := range dst {
			dst[i] = u.physical(int64(int16(binary.BigEndian.Uint16(src[2*i:]))))
		}
	case 32:
		for i := range dst {
			dst[i] = u.physical(int64(int32(binary.BigEndian.Uint32(src[4*i:]))))
		}
	case 64:
		if u.zero == 1<<63 && u.scale == 1 && !u.hasBlank {
			// The unsigned convention: adding in float64 would round to 2048.
			for i := range dst {
				dst[i] = float32(binary.BigEndian.Uint64(src[8*i:]) ^ 1<<63)
			}
			return top
		}
		for i := range dst {
			dst[i] = u.physical(int64(binary.BigEndian.Uint64(src[8*i:])))
		}
	case -32:
		for i := range dst {
			dst[i] = finite(u.zero + u.scale*float64(math.Float32frombits(binary.BigEndian.Uint32(src[4*i:]))))
		}
	case -64:
		for i := range dst {
			dst[i] = finite(u.zero + u.scale*math.Float64frombits(binary.BigEndian.Uint64(src[8*i:])))
		}
	}
	if u.whole {
		for i, v := range dst {
			dst[i] = float32(math.Round(float64(v)))
		}
	}
	return top
}

// physical is BZERO + BSCALE x stored (FITS 4.0 equation 3).
func (u *unit) physical(stored int64) float32 {
	if u.hasBlank && stored == u.blank {
		return float32(math.NaN())
	}
	return finite(u.zero + u.scale*float64(stored))
}

// finite rounds to float32; what does not fit is NaN.
func finite(v float64) float32 {
	if math.Abs(v) > math.MaxFloat32 {
		return float32(math.NaN())
	}
	return float32(v)
}
