package frames

import (
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"testing"
)

// Samples of any number decode to what the definition gives, one by one: big
// endian (FITS Standard 4.0 section 5.2), the bits of xor flipped.
func TestDecodeShorts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 12))
	for _, n := range []int{0, 1, 3, 4, 31, 32, 33, 63, 64, 1000, 6248} {
		for _, xor := range []uint16{0, 0x8000} {
			for _, high := range []int{-1, 0, n / 2, n - 1} { // the only sample with the highest bit
				src := make([]byte, 2*n+1)[1:] // on no boundary
				for i := range src {
					src[i] = byte(rng.UintN(256))
					if i%2 == 0 {
						src[i] &= 0x7f
					}
				}
				if n > 0 && high >= 0 {
					src[2*high] |= 0x80
				}
				want := make([]uint16, n)
				var or uint16
				for i := range want {
					want[i] = binary.BigEndian.Uint16(src[2*i:]) ^ xor
					or |= want[i]
				}
				for name, decode := range map[string]func([]uint16, []byte, uint16) uint16{"vector": decodeShorts, "plain": decodeShortsPlain} {
					got := make([]uint16, n+1)
					got[n] = 0xaaaa
					if o := decode(got[:n], src, xor); o != or || !slices.Equal(got[:n], want) || got[n] != 0xaaaa {
						t.Errorf("%s, %d samples, xor %#x: or %#x, want %#x", name, n, xor, o, or)
					}
				}
			}
		}
	}
}

func BenchmarkDecodeShorts(b *testing.B) {
	const n = 32 << 10 // a read of 64 KiB
	src, dst := make([]byte, 2*n), make([]uint16, n)
	for name, decode := range map[string]func([]uint16, []byte, uint16) uint16{"vector": decodeShorts, "plain": decodeShortsPlain} {
		b.Run(name+"/samples=32768", func(b *testing.B) {
			b.SetBytes(2 * n)
			for b.Loop() {
				decode(dst, src, 0x8000)
			}
		})
	}
}
