package frames

//go:generate go run ../assembly -routines shorts -out shorts_amd64.s

import (
	"math"

	"golang.org/x/sys/cpu"
)

// decodeShorts turns big-endian 16-bit samples and flips the bits of xor in
// each. It returns the bitwise or of all of them. Every sample of every frame
// passes through here.
func decodeShorts(dst []uint16, src []byte, xor uint16) (or uint16) {
	n := len(src) / 2
	dst = dst[:n]
	at := 0
	if n >= 32 && cpu.X86.HasAVX2 {
		at = n &^ 31
		or = decodeShortsAVX2(&dst[0], &src[0], at, xor)
	}
	return or | decodeShortsPlain(dst[at:], src[2*at:2*n], xor)
}

// decodeShortsAVX2 is decodeShorts for n samples, a multiple of 32.
//
//go:noescape
func decodeShortsAVX2(dst *uint16, src *byte, n int, xor uint16) (or uint16)

// floatShorts turns big-endian signed 16-bit samples plus zero into floating
// point. It returns the highest sample.
func floatShorts(dst []float32, src []byte, zero int32) (top int16) {
	n := len(src) / 2
	dst = dst[:n]
	at := 0
	top = math.MinInt16
	if n >= 16 && cpu.X86.HasAVX2 {
		at = n &^ 15
		top = floatShortsAVX2(&dst[0], &src[0], at, zero)
	}
	return max(top, floatShortsPlain(dst[at:], src[2*at:2*n], zero))
}

// floatShortsAVX2 is floatShorts for n samples, a multiple of 16.
//
//go:noescape
func floatShortsAVX2(dst *float32, src *byte, n int, zero int32) (top int16)
