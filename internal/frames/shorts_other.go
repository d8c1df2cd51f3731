//go:build !amd64

package frames

// decodeShorts turns big-endian 16-bit samples and flips the bits of xor in
// each. It returns the bitwise or of all of them.
func decodeShorts(dst []uint16, src []byte, xor uint16) (or uint16) {
	return decodeShortsPlain(dst, src, xor)
}

// floatShorts turns big-endian signed 16-bit samples plus zero into floating
// point. It returns the highest sample.
func floatShorts(dst []float32, src []byte, zero int32) (top int16) {
	return floatShortsPlain(dst, src, zero)
}
