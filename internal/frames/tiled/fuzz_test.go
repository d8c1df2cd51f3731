package tiled

import (
	"bytes"
	"io"
	"slices"
	"testing"
)

// FuzzRice: whatever the fast decoder accepts, the bit-by-bit one reads alike.
func FuzzRice(f *testing.F) {
	for _, code := range []string{"\x00\x0a\x39\xb7\xb5\x00\x08", "\x05\xb0\x94\xa7\x08\x00\xc8\x0b\x00", "\x00\x01\x86\xa0\x1c\xdc\x18"} {
		f.Add([]byte(code), uint8(8), uint8(32), uint8(1))
	}
	f.Fuzz(func(t *testing.T, src []byte, n, block, width uint8) {
		code := riceCodes[1<<(width%3)]
		b := 1 + int(block)
		got := make([]uint32, n)
		if err := unrice(got, src, b, code); err != nil || n == 0 {
			return
		}
		if int64(n) > riceMost(len(src), b, code) {
			t.Fatalf("%d samples out of %d bytes: more than there can be", n, len(src))
		}
		if want := slowRice(int(n), src, b, code); !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}

// FuzzReader: a table of any shape over any bytes gives just the bytes of its
// image, or an error.
func FuzzReader(f *testing.F) {
	f.Add([]byte("\x00\x00\x00\x07\x00\x00\x00\x00\x00\x0a\x39\xb7\xb5\x00\x08"), uint8(0), uint8(1), uint8(8), uint8(1), uint8(1), uint8(8), uint8(1), uint8(1))
	f.Add([]byte("\x00\x00\x00\x08\x00\x00\x00\x00\x00\x01\x00\x02\x00\x03\x00\x04"), uint8(3), uint8(1), uint8(2), uint8(2), uint8(1), uint8(2), uint8(2), uint8(1))
	algorithms := []string{"RICE_1", "GZIP_1", "GZIP_2", "NOCOMPRESS", "PLIO_1"}
	bitpixes := []int{8, 16, 32, 64, -32, -64}
	f.Fuzz(func(t *testing.T, data []byte, algorithm, bitpix, w, h, d, tw, th, td uint8) {
		bp := bitpixes[int(bitpix)%len(bitpixes)]
		tiles := int64(1)
		axes, tile := []int{int(w), int(h), int(d)}, []int{int(tw), int(th), int(td)}
		for i := range axes {
			tiles *= int64((axes[i] + max(1, tile[i]) - 1) / max(1, tile[i]))
		}
		table := &Table{
			Bitpix: bp, Axes: axes, Tile: tile, Algorithm: algorithms[int(algorithm)%len(algorithms)], BlockSize: 32, BytePix: 1 << (algorithm % 3),
			Quantised: bp < 0 && algorithm > 100, Scale: 1, Zero: 0, Dither: []string{"", "SUBTRACTIVE_DITHER_2"}[algorithm%2], Dither0: 1 + int(algorithm),
			RowBytes: 8, Rows: tiles, HeapOffset: 8 * tiles, HeapBytes: max(0, int64(len(data))-8*tiles),
			Columns: []Column{{Name: "COMPRESSED_DATA", Type: 'P', Elem: 1}},
		}
		r, err := NewReader(table, bytes.NewReader(data))
		if err != nil {
			return
		}
		n, err := io.Copy(io.Discard, io.LimitReader(r, 1<<30))
		if want := int64(w) * int64(h) * int64(d) * int64(r.size); err == nil && n != want || n > want {
			t.Fatalf("%d bytes, want %d (%v)", n, want, err)
		}
	})
}
