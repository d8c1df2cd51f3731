package frames

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// tiledFile is a compressed image with one table row for each tile given, in
// 32-bit or (wide) 64-bit descriptors.
func tiledFile(bitpix, w, h, tileW, tileH int, algorithm string, wide bool, tiles [][]byte, more ...string) []byte {
	var table, heap []byte
	for _, tile := range tiles {
		if wide {
			table = binary.BigEndian.AppendUint64(table, uint64(len(tile)))
			table = binary.BigEndian.AppendUint64(table, uint64(len(heap)))
		} else {
			table = binary.BigEndian.AppendUint32(table, uint32(len(tile)))
			table = binary.BigEndian.AppendUint32(table, uint32(len(heap)))
		}
		heap = append(heap, tile...)
	}
	form, row := "'1PB'", 8
	if wide {
		form, row = "'1QB'", 16
	}
	lines := []string{"XTENSION= 'BINTABLE'", "BITPIX  = 8", "NAXIS   = 2", keyed("NAXIS1", row), keyed("NAXIS2", len(tiles)),
		keyed("PCOUNT", len(heap)), "GCOUNT  = 1", "TFIELDS = 1", "TTYPE1  = 'COMPRESSED_DATA'", "TFORM1  = " + form, "ZIMAGE  = T",
		keyed("ZBITPIX", bitpix), "ZNAXIS  = 2", keyed("ZNAXIS1", w), keyed("ZNAXIS2", h), keyed("ZTILE1", tileW), keyed("ZTILE2", tileH),
		"ZCMPTYPE= '" + algorithm + "'", "ZNAME1  = 'BYTEPIX'", keyed("ZVAL1", max(bitpix, -bitpix)/8)}
	file := append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), cards(append(lines, more...)...)...)
	return append(file, pad(append(table, heap...), 0)...)
}

// The Rice code of int16 10, 11, 12, 10, 9, 8, 10, 30 as astropy 5.2.1 writes it.
var riceTile = []byte{0x00, 0x0a, 0x39, 0xb7, 0xb5, 0x00, 0x08}

func TestTiledImages(t *testing.T) {
	row := []uint16{10, 11, 12, 10, 9, 8, 10, 30}
	stored := []byte{0, 10, 0, 11, 0, 12, 0, 10, 0, 9, 0, 8, 0, 10, 0, 30}
	// GZIP_2 puts all high bytes first (FITS 4.0 section 10.4.2).
	shuffled := []byte{0, 0, 0, 0, 0, 0, 0, 0, 10, 11, 12, 10, 9, 8, 10, 30}
	two := append(slices.Clone(row), row...)
	for what, tc := range map[string]struct {
		file []byte
		want []uint16
	}{
		"Rice":                {tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile}), two},
		"64-bit descriptors":  {tiledFile(16, 8, 2, 8, 1, "RICE_1", true, [][]byte{riceTile, riceTile}), two},
		"lower-case name":     {tiledFile(16, 8, 1, 8, 1, "rice_1", false, [][]byte{riceTile}), row},
		"GZIP_1":              {tiledFile(16, 8, 2, 8, 2, "GZIP_1", false, [][]byte{zipped(append(stored[:16:16], stored...))}), two},
		"GZIP_2":              {tiledFile(16, 8, 1, 8, 1, "GZIP_2", false, [][]byte{zipped(shuffled)}), row},
		"NOCOMPRESS":          {tiledFile(16, 8, 1, 8, 1, "NOCOMPRESS", false, [][]byte{stored}), row},
		"tile larger":         {tiledFile(16, 8, 1, 100, 100, "NOCOMPRESS", false, [][]byte{stored}), row},
		"edge tiles":          {tiledFile(16, 3, 3, 2, 2, "NOCOMPRESS", false, [][]byte{{0, 1, 0, 2, 0, 4, 0, 5}, {0, 3, 0, 6}, {0, 7, 0, 8}, {0, 9}}), []uint16{1, 2, 3, 4, 5, 6, 7, 8, 9}},
		"gzip around it all":  {zipped(tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile})), two},
		"scaled and trimmed":  {tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile}, "BZERO   = 100", "TRIMSEC = '[2:3,2:2]'"), []uint16{111, 112}},
		"bytes, 32-bit gzip":  {tiledFile(8, 2, 1, 2, 1, "GZIP_1", false, [][]byte{zipped([]byte{0, 0, 0, 200, 0, 0, 0, 7})}), []uint16{200, 7}},
		"shorts, 32-bit gzip": {tiledFile(16, 2, 1, 2, 1, "GZIP_1", false, [][]byte{zipped([]byte{0, 0, 3, 232, 0, 0, 0, 7})}), []uint16{1000, 7}},
	} {
		im := readBytes(t, tc.file)
		if !slices.Equal(im.U16, tc.want) {
			t.Errorf("%s: got %v, want %v", what, im.U16, tc.want)
		}
	}
}

func TestBrokenTiles(t *testing.T) {
	stored := []byte{0, 10, 0, 11, 0, 12, 0, 10, 0, 9, 0, 8, 0, 10, 0, 30}
	short := tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile})
	for what, tc := range map[string]struct {
		file []byte
		want outcome
		says string
	}{
		"code ends early":         {tiledFile(16, 8, 1, 8, 1, "RICE_1", false, [][]byte{riceTile[:4]}), malformed, "tile 1"},
		"second tile":             {tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile[:4]}), malformed, "tile 2"},
		"split position":          {tiledFile(32, 8, 1, 8, 1, "RICE_1", false, [][]byte{{0, 0, 0, 10, 0xff, 0xff}}), malformed, "split position"},
		"no data":                 {tiledFile(16, 8, 1, 8, 1, "RICE_1", false, [][]byte{{}}), malformed, "no data"},
		"gzip of too little":      {tiledFile(16, 8, 1, 8, 1, "GZIP_1", false, [][]byte{zipped(stored[:8])}), malformed, "ends before"},
		"no gzip at all":          {tiledFile(16, 8, 1, 8, 1, "GZIP_1", false, [][]byte{stored}), malformed, "gzip"},
		"plain of another length": {tiledFile(16, 8, 1, 8, 1, "NOCOMPRESS", false, [][]byte{stored[:8]}), malformed, "8 bytes for 8 samples"},
		"too few rows":            {tiledFile(16, 8, 3, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile}), malformed, "2 table rows for 3 tiles"},
		"H-compress":              {tiledFile(16, 8, 1, 8, 1, "HCOMPRESS_1", false, [][]byte{riceTile}), unsupported, "HCOMPRESS_1"},
		"PLIO":                    {tiledFile(16, 8, 1, 8, 1, "PLIO_1", false, [][]byte{riceTile}), unsupported, "PLIO_1"},
		"unknown":                 {tiledFile(16, 8, 1, 8, 1, "ZIP", false, [][]byte{riceTile}), unsupported, "ZIP"},
		"Rice of 64 bits":         {tiledFile(64, 8, 1, 8, 1, "RICE_1", false, [][]byte{riceTile}), malformed, "BYTEPIX 8"},
		"unknown quantisation":    {tiledFile(16, 8, 1, 8, 1, "RICE_1", false, [][]byte{riceTile}, "ZQUANTIZ= 'MAGIC'"), unsupported, "MAGIC"},
		"block size 0":            {tiledFile(16, 8, 1, 8, 1, "RICE_1", false, [][]byte{riceTile}, "ZNAME2  = 'BLOCKSIZE'", "ZVAL2   = 0"), malformed, "BLOCKSIZE 0"},
		"file cut in the heap":    {short[:len(short)-2880+20], truncated, "%"},
	} {
		f := scanBytes(t, "x.fits.fz", tc.file)
		err := f.Err
		if err == nil {
			err = f.Read(new(Image))
		}
		if !tc.want.matches(err) || !strings.Contains(fmt.Sprint(err), tc.says) {
			t.Errorf("%s: %v, want outcome %d that says %q", what, err, tc.want, tc.says)
		}
	}
}

// TestTileBombs: a tile that unpacks to more than its pixels is stopped there,
// and a claim of pixels that the heap cannot hold costs no memory.
func TestTileBombs(t *testing.T) {
	var bomb bytes.Buffer
	w := gzip.NewWriter(&bomb)
	zeros := make([]byte, 1<<20)
	for range 200 {
		w.Write(zeros)
	}
	w.Close()
	for what, file := range map[string][]byte{
		"gzip":  tiledFile(16, 8, 1, 8, 1, "GZIP_1", false, [][]byte{bomb.Bytes()}),
		"Rice":  tiledFile(16, 16000, 16000, 16000, 16000, "RICE_1", false, [][]byte{riceTile}),
		"plain": tiledFile(16, 16000, 16000, 16000, 16000, "NOCOMPRESS", false, [][]byte{riceTile}),
	} {
		dir := write(t, "x.fits.fz", file)
		var f *Frame
		took := allocated(func() {
			f = scanDir(t, dir)[0]
			if f.Err == nil {
				f.Err = f.Read(new(Image))
			}
		})
		if !malformed.matches(f.Err) || took > 12<<20 {
			t.Errorf("%s: %v and %d MB of memory", what, f.Err, took>>20)
		}
	}
}

// quantisedFile is a float image of rows of 8 px, a Rice tile each, with scale
// and zero in columns.
func quantisedFile(scales []float64, more ...string) []byte {
	var table, heap []byte
	for _, scale := range scales {
		table = binary.BigEndian.AppendUint32(table, uint32(len(riceTile32)))
		table = binary.BigEndian.AppendUint32(table, uint32(len(heap)))
		table = binary.BigEndian.AppendUint64(table, math.Float64bits(scale))
		table = binary.BigEndian.AppendUint64(table, math.Float64bits(100))
		heap = append(heap, riceTile32...)
	}
	lines := []string{"XTENSION= 'BINTABLE'", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 24", keyed("NAXIS2", len(scales)),
		keyed("PCOUNT", len(heap)), "GCOUNT  = 1", "TFIELDS = 3", "TTYPE1  = 'COMPRESSED_DATA'", "TFORM1  = '1PB'",
		"TTYPE2  = 'ZSCALE'", "TFORM2  = '1D'", "TTYPE3  = 'ZZERO'", "TFORM3  = '1D'", "ZIMAGE  = T",
		"ZBITPIX = -32", "ZNAXIS  = 2", "ZNAXIS1 = 16", keyed("ZNAXIS2", len(scales)), "ZTILE1  = 16", "ZTILE2  = 1", "ZCMPTYPE= 'RICE_1'"}
	file := append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), cards(append(lines, more...)...)...)
	return append(file, pad(append(table, heap...), 0)...)
}

// The Rice code of 16 integers by astropy 5.2.1, as in the vectors of package tiled.
var riceTile32 = []byte{0x00, 0x00, 0x00, 0x04, 0x1c, 0x45, 0xfb, 0x98, 0xc3, 0xc3, 0x5a, 0x52, 0x30}

// A tile without a scale is a tile without values: NaN, and the frame lives.
func TestTileWithoutScale(t *testing.T) {
	im := readBytes(t, quantisedFile([]float64{2, math.NaN(), 2}))
	for i, v := range im.F32 {
		if lost := i/16 == 1; math.IsNaN(float64(v)) != lost || !lost && v != im.F32[i%16] {
			t.Fatalf("sample %d of row %d is %v", i%16, i/16, v)
		}
	}
	if im.F32[0] != 108 { // 4 x 2 + 100
		t.Errorf("the first sample is %v", im.F32[0])
	}
}

// The table of random numbers has 10000 of them: a seed beyond starts over, as
// CFITSIO does (from memory).
func TestDitherSeedWraps(t *testing.T) {
	read := func(seed string) []float32 {
		return readBytes(t, quantisedFile([]float64{2, 3}, "ZQUANTIZ= 'SUBTRACTIVE_DITHER_1'", "ZDITHER0= "+seed)).F32
	}
	want := read("17")
	for _, seed := range []string{"10017", "50017", "-9983"} {
		if !slices.Equal(read(seed), want) {
			t.Errorf("seed %s gives other pixels than 17", seed)
		}
	}
	if slices.Equal(read("18"), want) {
		t.Error("the seed changes nothing")
	}
}

// A compressed file that was cut while it was copied is truncated, wherever.
func TestCutTiles(t *testing.T) {
	whole := tiledFile(16, 8, 2, 8, 1, "RICE_1", false, [][]byte{riceTile, riceTile})
	for _, n := range []int{blockLen, blockLen + 1000, 2*blockLen + 3} {
		for _, file := range [][]byte{whole[:n], zipped(whole[:n])} {
			if f := scanBytes(t, "x.fits.fz", file); !truncated.matches(f.Err) {
				t.Errorf("cut to %d bytes: %v", n, f.Err)
			}
		}
	}
	if f := scanBytes(t, "x.fits", whole[:blockLen]); !unsupported.matches(f.Err) {
		t.Errorf("a plain file of a header alone: %v", f.Err)
	}
}

// A mistake of the program costs one file, is not laid at the file's door, and
// says where it happened.
func TestPanicIsInternal(t *testing.T) {
	fail := func() (err error) {
		defer CatchPanic(&err)
		var none []int
		_ = none[len(none)]
		return nil
	}
	var internal *InternalError
	if err := fail(); !errors.As(err, &internal) || !strings.Contains(internal.Stack, "tiles_test.go") || malformed.matches(err) {
		t.Errorf("a panic became %v", err)
	}
}
