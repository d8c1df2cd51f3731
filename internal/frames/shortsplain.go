package frames

import (
	"encoding/binary"
	"math"
)

// decodeShortsPlain is decodeShorts without vector instructions, four samples
// at a time.
func decodeShortsPlain(dst []uint16, src []byte, xor uint16) uint16 {
	const low = 0x00ff00ff00ff00ff
	flip := uint64(xor) * 0x0001000100010001
	var or uint64
	dst = dst[:len(src)/2]
	for len(dst) >= 4 && len(src) >= 8 {
		v := binary.LittleEndian.Uint64(src)
		v = ((v&low)<<8 | v>>8&low) ^ flip
		or |= v
		dst[0] = uint16(v)
		dst[1] = uint16(v >> 16)
		dst[2] = uint16(v >> 32)
		dst[3] = uint16(v >> 48)
		dst, src = dst[4:], src[8:]
	}
	for i := range dst {
		v := binary.BigEndian.Uint16(src[2*i:]) ^ xor
		or |= uint64(v)
		dst[i] = v
	}
	return uint16(or | or>>16 | or>>32 | or>>48)
}

// floatShortsPlain is floatShorts without vector instructions, four samples at
// a time.
func floatShortsPlain(dst []float32, src []byte, zero int32) (top int16) {
	top = math.MinInt16
	const low = 0x00ff00ff00ff00ff
	dst = dst[:len(src)/2]
	for len(dst) >= 4 && len(src) >= 8 {
		v := binary.LittleEndian.Uint64(src)
		v = (v&low)<<8 | v>>8&low
		a, b, c, d := int16(v), int16(v>>16), int16(v>>32), int16(v>>48)
		dst[0], dst[1], dst[2], dst[3] = float32(int32(a)+zero), float32(int32(b)+zero), float32(int32(c)+zero), float32(int32(d)+zero)
		top = max(top, a, b, c, d)
		dst, src = dst[4:], src[8:]
	}
	for i := range dst {
		v := int16(binary.BigEndian.Uint16(src[2*i:]))
		dst[i] = float32(int32(v) + zero)
		top = max(top, v)
	}
	return top
}
