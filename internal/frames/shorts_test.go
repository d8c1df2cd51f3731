package frames

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// lengths of a row: every one up to the eighth turn of the widest vector loop.
var lengths = func() []int {
	n := []int{1000, 6248}
	for i := range 258 {
		n = append(n, i)
	}
	return n
}()

// Samples of any number decode to what the definition gives, one by one: big
// endian (FITS Standard 4.0 section 5.2), the bits of xor flipped.
func TestDecodeShorts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 12))
	for _, n := range lengths {
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

// Signed samples become the same floating-point numbers, one by one or many at a time, and
// the highest is told wherever it stands.
func TestFloatShorts(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 13))
	for _, n := range lengths {
		for _, zero := range []int32{0, 32768, -7} {
			src := make([]byte, 2*n+1)[1:] // on no boundary
			fewer := rng.UintN(8)          // bits: all samples may be negative, or low
			for i := range src {
				src[i] = byte(rng.UintN(256))
				if i%2 == 0 {
					src[i] = byte(int8(src[i])>>fewer) | byte(n%2)<<7
				}
			}
			want, top := make([]float32, n, n+1), int16(math.MinInt16)
			for i := range want {
				v := int16(binary.BigEndian.Uint16(src[2*i:]))
				want[i], top = float32(int32(v)+zero), max(top, v)
			}
			want = append(want, -1)
			for name, decode := range map[string]func([]float32, []byte, int32) int16{"vector": floatShorts, "plain": floatShortsPlain} {
				got := make([]float32, n+1)
				got[n] = -1
				if high := decode(got[:n], src, zero); high != top || !slices.Equal(got, want) {
					t.Errorf("%s, %d samples from %d: wrong, or the highest: %d, want %d", name, n, zero, high, top)
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

func BenchmarkFloatShorts(b *testing.B) {
	const n = 32 << 10 // a read of 64 KiB
	src, dst := make([]byte, 2*n), make([]float32, n)
	for name, decode := range map[string]func([]float32, []byte, int32) int16{"vector": floatShorts, "plain": floatShortsPlain} {
		b.Run(name+"/samples=32768", func(b *testing.B) {
			b.SetBytes(2 * n)
			for b.Loop() {
				decode(dst, src, 32768)
			}
		})
	}
}
