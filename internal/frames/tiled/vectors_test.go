package tiled

import (
	"encoding/binary"
	"encoding/hex"
	"math"
	"slices"
	"strings"
	"testing"
)

// The vectors are Rice-coded tiles as astropy 5.2.1, through its copy of
// cfitsio, writes them; an independent decoder gave the samples back from each.

func bytesOf(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestRiceVectors(t *testing.T) {
	for _, v := range []struct {
		name  string
		bytes int
		code  string
		want  []int32
	}{
		{"int16", 2, "00 0a 39 b7 b5 00 08", []int32{10, 11, 12, 10, 9, 8, 10, 30}},
		{"int16 constant", 2, "00 0a 00", []int32{10, 10, 10, 10, 10, 10, 10, 10}},
		{"uint16", 2, "83 e8 88 08 28 48 78 18 40 00 1a 30 40",
			offset([]int32{1000, 1001, 1003, 999, 998, 1000, 65535, 0}, -32768)},
		{"int32", 4, "00 01 86 a0 1c dc 18", []int32{100000, 100001, 99999, 100010}},
		{"uint8", 1, "05 b0 94 a7 08 00 c8 0b 00", []int32{5, 6, 7, 5, 5, 5, 200, 3}},
		{"int16, two blocks", 2, "03ea389c28114a25b5856a65aada8d4014c12b40400a8810d85a4a86f725511acab590d71262568ca5c8",
			[]int32{1002, 1004, 1002, 993, 1005, 1002, 997, 1003, 1002, 1001, 1000, 1003, 996, 999, 998, 1003, 1000, 999, 996, 999, 1000, 999, 1006, 1005, 986, 991, 999, 998, 1001, 1001, 1011, 994, 998, 1010, 1003, 1003, 997, 992, 1001, 1001, 994, 997, 1000, 995, 1000, 1000, 1000, 997, 1003, 1004, 1002, 996, 1004, 997, 1004, 995, 1005, 1000, 994, 998, 1000, 1001, 995, 994}},
		{"int16, a block coded raw", 2, "7f8bf0000913a60568275f4621b3d6912143757fe06c7233582e23773e146463de68d3211bf974e4007269a4c446aee345e1270d9ee9c101a3f57b98bd79a6024d36bfc8d50b89de2a2d963d6ca57cae1714ad",
			[]int32{32651, -14296, -1965, -18664, 12617, 9130, 22579, 19991, 31254, 30386, 25879, -22904, -30002, -1167, -10158, 25867, 19458, -5066, 4950, 5865, 25615, -31164, -674, 11367, -3078, 27464, 29525, 21417, -2333, 25264, -27966, 10508, -15199, -16676, 11761, 17596, 25458, -18896, 24356, 21709}},
	} {
		t.Run(v.name, func(t *testing.T) {
			got := make([]uint32, len(v.want))
			code := bytesOf(t, v.code)
			if err := unrice(got, code, 32, riceCodes[v.bytes]); err != nil {
				t.Fatal(err)
			}
			mask := uint32(uint64(1)<<(8*v.bytes) - 1)
			for i, w := range v.want {
				if got[i] != uint32(w)&mask {
					t.Fatalf("sample %d is %d, want %d", i, int32(got[i]), w)
				}
			}
			// A code cut short anywhere is an error or still gives samples that
			// lie in its complete blocks; it never runs on.
			for n := range code {
				if err := unrice(make([]uint32, len(v.want)), code[:n], 32, riceCodes[v.bytes]); err == nil && n < len(code)-1 && len(v.want) > 8 {
					t.Errorf("%d of %d bytes gave no error", n, len(code))
				}
			}
		})
	}
}

func offset(x []int32, by int32) []int32 {
	for i := range x {
		x[i] += by
	}
	return x
}

func TestRandomTable(t *testing.T) {
	// FITS 4.0 appendix I: the first values, and the seed after 10000 steps.
	for i, want := range []float32{7.826369e-06, 0.131537788, 0.755605322} {
		if randoms[i] != want {
			t.Errorf("number %d is %v, want %v", i+1, randoms[i], want)
		}
	}
	if got := float32(1043618065.0 / 2147483647.0); randoms[9999] != got {
		t.Errorf("number 10000 is %v, want %v", randoms[9999], got)
	}
}

// TestQuantised: a row of 16 floats by astropy 5.2.1, values exact.
func TestQuantised(t *testing.T) {
	for _, v := range []struct {
		name        string
		code        string
		scale, zero float64
		dither      int
		tile        int64
		ints        []int32
		want        []float64
	}{
		{"NO_DITHER", "000000041c45fb98c3c35a5230", 0.4642431344242096, 97.95530136350823, 0, 1,
			[]int32{4, 6, 3, 1, 2, 0, 5, 10, 2, 2, 7, 6, 5, 0, 4, 7},
			[]float64{99.81227111816406, 100.74076080322266, 99.34803009033203, 98.41954803466797}},
		{"SUBTRACTIVE_DITHER_1", "000000041cdfee41078494a460", 0.4642431344242096, 97.95530136350823, 1, 1,
			[]int32{4, 5, 3, 1, 2, 0, 4, 10, 2, 2, 6, 6, 5, 0, 4, 7},
			[]float64{100.04439544677734, 100.44757080078125, 99.2293701171875, 98.4387435913086, 98.86857604980469, 98.08576965332031, 100.02255249023438, 102.51469421386719, 98.80055236816406, 98.6819839477539, 100.79484558105469, 100.73174285888672, 100.12287139892578, 98.17137145996094, 100.01957702636719, 101.19121551513672}},
		{"SUBTRACTIVE_DITHER_2", "8000014b3c0994e547002580152a408b76d468556700", 0.30369464458732603, 652179279.8958132, 2, 2,
			[]int32{-2147483317, -2147483311, -2147483321, -2147483316, -2147483320, -2147483646, -2147483316, -2147483306, -2147483306, -2147483309, -2147483324, -2147483311, -2147483308, -2147483307, -2147483318, -2147483311},
			[]float64{97.18411254882812, 99.07547760009766, 96.091796875, 97.3499984741211, 96.40065002441406, 0.0, 97.52116394042969, 100.59062957763672, 100.39725494384766, 99.6028060913086, 95.06722259521484, 98.87052917480469, 100.05217742919922, 100.13980865478516, 96.7965316772461, 98.90489959716797}},
	} {
		t.Run(v.name, func(t *testing.T) {
			ints := make([]uint32, 16)
			if err := unrice(ints, bytesOf(t, v.code), 32, riceCodes[4]); err != nil {
				t.Fatal(err)
			}
			for i, w := range v.ints {
				if int32(ints[i]) != w {
					t.Errorf("integer %d is %d, want %d", i, int32(ints[i]), w)
				}
			}
			q := quantiser{scale: v.scale, zero: v.zero, dither: v.dither, blank: nullPixel}
			q.startDither(v.tile, 1)
			out := make([]byte, 64)
			q.float32s(out, ints)
			for i, w := range v.want {
				if got := math.Float32frombits(binary.BigEndian.Uint32(out[4*i:])); got != float32(w) {
					t.Errorf("sample %d is %v, want %v", i, got, float32(w))
				}
			}
		})
	}
}

func TestNullAndZeroPixels(t *testing.T) {
	q := quantiser{scale: 1, zero: 100, dither: 2, blank: -5}
	q.startDither(1, 1)
	for _, v := range []struct {
		i    int32
		want float64
	}{{-5, math.NaN()}, {nullPixel, math.NaN()}, {zeroPixel, 0}} {
		if got := q.value(v.i); got != v.want && !(math.IsNaN(got) && math.IsNaN(v.want)) {
			t.Errorf("integer %d gives %v, want %v", v.i, got, v.want)
		}
	}
	if q.start != int(randoms[0]*500)+3 {
		t.Error("null and zero pixels must use up their random number")
	}
}

func TestUnshuffle(t *testing.T) {
	// int16 1, 2, 3, 256: GZIP_2 stores all high bytes, then all low ones.
	got := make([]byte, 8)
	unshuffle(got, []byte{0, 0, 0, 1, 1, 2, 3, 0}, 2)
	if want := []byte{0, 1, 0, 2, 0, 3, 1, 0}; !slices.Equal(got, want) {
		t.Errorf("got % x, want % x", got, want)
	}
}

// slowRice is the decoder of unrice, bit by bit.
func slowRice(n int, src []byte, block int, code riceCode) []uint32 {
	pos := 0
	bit := func() uint32 {
		b := src[pos/8] >> (7 - pos%8) & 1
		pos++
		return uint32(b)
	}
	take := func(k int) (v uint32) {
		for range k {
			v = v<<1 | bit()
		}
		return v
	}
	mask := uint32(uint64(1)<<(8*code.bytes) - 1)
	last := take(8 * code.bytes)
	out := make([]uint32, 0, n)
	fs := 0
	for i := range n {
		if i%block == 0 {
			fs = int(take(code.fsBits)) - 1
		}
		u := uint32(0)
		switch {
		case fs < 0:
		case fs == code.fsMax:
			u = take(8 * code.bytes)
		default:
			for bit() == 0 {
				u++
			}
			u = u<<fs | take(fs)
		}
		d := u >> 1
		if u&1 == 1 {
			d = ^d
		}
		last = (last + d) & mask
		out = append(out, last)
	}
	return out
}

// riceEncode writes Rice code in the plainest way, to make test data.
func riceEncode(px []uint32, block int, code riceCode) []byte {
	var out []byte
	nbits := 0
	put := func(v uint32, n int) {
		for n--; n >= 0; n-- {
			if nbits%8 == 0 {
				out = append(out, 0)
			}
			out[nbits/8] |= byte(v>>n&1) << (7 - nbits%8)
			nbits++
		}
	}
	mask := uint32(uint64(1)<<(8*code.bytes) - 1)
	put(px[0], 8*code.bytes)
	last := px[0]
	for len(px) > 0 {
		part := px[:min(block, len(px))]
		px = px[len(part):]
		folded := make([]uint32, len(part))
		all, sum := uint32(0), uint64(0)
		for i, v := range part {
			d := (v - last) & mask
			last = v
			if d>>(8*code.bytes-1) == 1 { // negative
				folded[i] = (^d&mask)<<1 | 1
			} else {
				folded[i] = d << 1
			}
			folded[i] &= mask
			all |= folded[i]
			sum += uint64(folded[i])
		}
		fs := 0
		for mean := sum / uint64(len(part)); mean > 1; mean >>= 1 {
			fs++
		}
		switch {
		case all == 0:
			put(0, code.fsBits)
		case fs >= code.fsMax:
			put(uint32(code.fsMax+1), code.fsBits)
			for _, u := range folded {
				put(u, 8*code.bytes)
			}
		default:
			put(uint32(fs+1), code.fsBits)
			for _, u := range folded {
				for range u >> fs {
					put(0, 1)
				}
				put(1, 1)
				put(u&(1<<fs-1), fs)
			}
		}
	}
	return out
}

// TestRiceAgainstSlow: the fast decoder against the obvious one, over widths,
// noise from none to full range, block sizes and lengths.
func TestRiceAgainstSlow(t *testing.T) {
	seed := uint32(1)
	for _, width := range []int{1, 2, 4} {
		code := riceCodes[width]
		mask := uint32(uint64(1)<<(8*width) - 1)
		for noise := 0; noise <= 8*width; noise += 2 {
			for _, n := range []int{1, 2, 31, 32, 33, 100} {
				px := make([]uint32, n)
				for i := range px {
					seed = seed*1664525 + 1013904223
					px[i] = (1000 + seed>>7&uint32(uint64(1)<<noise-1)) & mask
				}
				for _, block := range []int{16, 32} {
					packed := riceEncode(px, block, code)
					got := make([]uint32, n)
					if err := unrice(got, packed, block, code); err != nil {
						t.Fatalf("width %d noise %d n %d: %v", width, noise, n, err)
					}
					if slow := slowRice(n, packed, block, code); !slices.Equal(got, slow) || !slices.Equal(got, px) {
						t.Fatalf("width %d noise %d n %d block %d: fast, slow and original differ", width, noise, n, block)
					}
				}
			}
		}
	}
}

func BenchmarkRice(b *testing.B) {
	px := make([]uint32, 6248)
	seed := uint32(1)
	for i := range px { // about 8 ADU of noise
		seed = seed*1664525 + 1013904223
		px[i] = 1000 + seed>>20&15 + seed>>10&15
	}
	packed := riceEncode(px, 32, riceCodes[2])
	out := make([]uint32, len(px))
	b.SetBytes(int64(2 * len(px)))
	for b.Loop() {
		if err := unrice(out, packed, 32, riceCodes[2]); err != nil {
			b.Fatal(err)
		}
	}
}
