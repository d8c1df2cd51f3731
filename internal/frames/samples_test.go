package frames

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/astrogo/fitsio"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// sameFloats compares samples, NaN being like NaN.
func sameFloats(t *testing.T, got, want []float32) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("samples differ (-want +got):\n%s", diff)
	}
}

// FITS 4.0 section 5.2.1 and table 11: unsigned 16-bit samples and their bytes
// as astropy 5.2.1 writes them.
func TestUnsignedConvention(t *testing.T) {
	file := append(cards(imageCards(16, []int{6, 1}, "BSCALE  = 1", "BZERO   = 32768")...),
		pad([]byte{0x80, 0x00, 0x80, 0x01, 0xff, 0xff, 0x00, 0x00, 0x7f, 0xfe, 0x7f, 0xff}, 0)...)
	if len(file) != 5760 {
		t.Fatalf("%d bytes", len(file))
	}
	if got, want := readBytes(t, file).U16, []uint16{0, 1, 32767, 32768, 65534, 65535}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestScaling(t *testing.T) {
	nan := float32(math.NaN())
	inf, inf64 := float32(math.Inf(1)), math.Inf(-1)
	for _, tc := range []struct {
		name   string
		bitpix int
		stored any
		cards  []string
		u16    []uint16
		f32    []float32
	}{
		// FITS 4.0 sections 4.4.2.5 and 5.2: BLANK is a stored value.
		{"scale, zero and blank", 16, []int16{1, -32768, 3}, []string{"BSCALE  = 2", "BZERO   = 10", "BLANK   = -32768"}, nil, []float32{12, nan, 16}},
		{"bytes", 8, []uint8{0, 128, 255}, nil, []uint16{0, 128, 255}, nil},
		{"signed bytes", 8, []uint8{0, 128, 255}, []string{"BZERO   = -128"}, nil, []float32{-128, 0, 127}},
		{"signed, none negative", 16, []int16{0, 100, 32767}, nil, []uint16{0, 100, 32767}, nil},
		{"signed, one negative", 16, []int16{0, -1, 32767}, nil, nil, []float32{0, -1, 32767}},
		{"unsigned with blank", 16, []int16{-32768, 0, 5}, []string{"BZERO   = 32768", "BLANK   = 5"}, nil, []float32{0, 32768, nan}},
		{"32 bits that fit in 16", 32, []int32{0, 1000, 65535}, nil, []uint16{0, 1000, 65535}, nil},
		{"32 bits", 32, []int32{-5, 1000, 65536}, nil, nil, []float32{-5, 1000, 65536}},
		{"unsigned 32 bits", 32, []int32{-2147483648, 0, 1}, []string{"BZERO   = 2147483648"}, nil, []float32{0, 2147483648, 2147483649}},
		{"64 bits", 64, []int64{-1, 1 << 40, 7}, nil, nil, []float32{-1, 1 << 40, 7}},
		{"unsigned 64 bits", 64, []int64{math.MinInt64, math.MinInt64 + 3, math.MinInt64 + 65535}, []string{"BZERO   = 9223372036854775808"}, []uint16{0, 3, 65535}, nil},
		{"floats", -32, []float32{1.5, nan, inf}, nil, nil, []float32{1.5, nan, nan}},
		{"whole floats", -32, []float32{1, 2, 65535}, nil, []uint16{1, 2, 65535}, nil},
		{"doubles", -64, []float64{1.5, inf64, 1e300}, nil, nil, []float32{1.5, nan, nan}},
		{"scaled doubles", -64, []float64{1, 2, 3}, []string{"BSCALE  = 0.5"}, nil, []float32{0.5, 1, 1.5}},
		{"lower-case exponents", 16, []int16{1, 2, 3}, []string{"BSCALE  = 5d-1", "BZERO   = 1.0e1"}, nil, []float32{10.5, 11, 11.5}},
		{"BLANK on floats is ignored", -32, []float32{1.5, 2, 3}, []string{"BLANK   = 2"}, nil, []float32{1.5, 2, 3}},
		{"BSCALE 0 counts as 1", 16, []int16{1, 2, 3}, []string{"BSCALE  = 0"}, []uint16{1, 2, 3}, nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			im := readBytes(t, fits(tc.bitpix, []int{3, 1}, tc.stored, tc.cards...))
			if !slices.Equal(im.U16, tc.u16) || (im.U16 == nil) != (tc.u16 == nil) {
				t.Errorf("U16 %v, want %v", im.U16, tc.u16)
			}
			sameFloats(t, im.F32, tc.f32)
		})
	}
}

// TestFloatsThatCarryBZERO: 32768 is left over when the samples are physical
// already, and needed when they are what a signed file stored.
func TestFloatsThatCarryBZERO(t *testing.T) {
	px, signed := make([]float32, 400), make([]float32, 400)
	for i := range px {
		px[i] = 3000 + float32(i%50)
		signed[i] = px[i] - 32768
	}
	for name, stored := range map[string][]float32{"physical": px, "signed": signed} {
		f := scanBytes(t, "x.fits", fits(-32, []int{20, 20}, stored, "BZERO   = 32768.0", "BSCALE  = 1.0"))
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		if im.U16 == nil || im.U16[7] != 3007 {
			t.Errorf("%s: %v", name, im.Float32(0, nil)[7])
		}
		if (name == "physical") != warned(f, "BZERO") {
			t.Errorf("%s: warnings %q", name, f.Warnings)
		}
	}
}

// TestShortsAgainstSlow: the decoder of four at a time against one by one.
func TestShortsAgainstSlow(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for n := range 40 {
		src := make([]byte, 2*n)
		for i := range src {
			src[i] = byte(rng.Uint32())
		}
		for _, xor := range []uint16{0, 0x8000} {
			got, want, or := make([]uint16, n), make([]uint16, n), uint16(0)
			for i := range want {
				want[i] = binary.BigEndian.Uint16(src[2*i:]) ^ xor
				or |= want[i]
			}
			if gotOr := decodeShorts(got, src, xor); gotOr != or || !slices.Equal(got, want) {
				t.Fatalf("n %d xor %x: %v %x, want %v %x", n, xor, got, gotOr, want, or)
			}
		}
	}
}

// TestAgainstFitsio: fitsio, given only a clean structural header and the
// data, is the reference for where samples lie and what they are.
func TestAgainstFitsio(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, bitpix := range []int{8, 16, 32, 64, -32, -64} {
		for _, axes := range [][]int{{1, 1}, {7, 5}, {100, 33}, {6, 5, 3}} {
			n := 1
			for _, a := range axes {
				n *= a
			}
			data := make([]byte, n*abs(bitpix)/8)
			for i := range data {
				data[i] = byte(rng.Uint32())
			}
			structural := cards(imageCards(bitpix, axes)...)
			odd := cards(imageCards(bitpix, axes, "HIERARCH NAXIS1 = 'x'", "CONTINUE", "EXPTIME = Tuesday")...)
			hdu, err := fitsio.NewDecoder(io.MultiReader(bytes.NewReader(structural), bytes.NewReader(pad(slices.Clone(data), 0)))).DecodeHDU()
			if err != nil {
				t.Fatal(err)
			}
			want := make([]float32, 0, n)
			for raw := hdu.(fitsio.Image).Raw(); len(raw) > 0; raw = raw[abs(bitpix)/8:] {
				want = append(want, slowSample(bitpix, raw))
			}
			im := readBytes(t, append(odd, pad(slices.Clone(data), 0)...))
			var got []float32
			for p := range im.Planes {
				got = append(got, im.Float32(p, nil)...)
			}
			sameFloats(t, got, want)
		}
	}
}

// slowSample is one unscaled sample by the letter of FITS 4.0 section 5.
func slowSample(bitpix int, b []byte) float32 {
	v := 0.0
	switch bitpix {
	case 8:
		v = float64(b[0])
	case 16:
		v = float64(int16(binary.BigEndian.Uint16(b)))
	case 32:
		v = float64(int32(binary.BigEndian.Uint32(b)))
	case 64:
		v = float64(int64(binary.BigEndian.Uint64(b)))
	case -32:
		v = float64(math.Float32frombits(binary.BigEndian.Uint32(b)))
	case -64:
		v = math.Float64frombits(binary.BigEndian.Uint64(b))
	}
	if math.Abs(v) > math.MaxFloat32 {
		v = math.NaN()
	}
	return float32(v)
}

// TestTrim: overscan is cut off in whole and in strips, and what lies in the
// picture is what lay there before.
func TestTrim(t *testing.T) {
	const w, h = 12, 9
	px := make([]int16, w*h)
	for i := range px {
		px[i] = int16(i)
	}
	for _, bitpix := range []int{16, 32} {
		var stored any = px
		if bitpix == 32 {
			wide := make([]int32, len(px))
			for i, v := range px {
				wide[i] = int32(v) + 100000
			}
			stored = wide
		}
		f := scanBytes(t, "x.fits", fits(bitpix, []int{w, h}, stored, "TRIMSEC = '[ 3:10, 2: 8]'", "BIASSEC = '[11:12,1:9]'"))
		if f.Image.Width != 8 || f.Image.Height != 7 || f.Meta.OverscanSection != (Section{10, 0, 12, 9}) || f.Meta.DataSection != (Section{2, 1, 10, 8}) {
			t.Fatalf("%+v %+v", f.Image, f.Meta)
		}
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		got := im.Float32(0, nil)
		for y := range 7 {
			for x := range 8 {
				want := float32((y+1)*w + x + 2)
				if bitpix == 32 {
					want += 100000
				}
				if got[y*8+x] != want {
					t.Fatalf("BITPIX %d: pixel %d,%d is %v, want %v", bitpix, x, y, got[y*8+x], want)
				}
			}
		}
		sameRows(t, f, got, 3)
	}
	// A colour pattern moves along with the first pixel.
	f := scanBytes(t, "x.fits", fits(16, []int{w, h}, px, "TRIMSEC = '[2:9,2:9]'", "BAYERPAT= 'RGGB'"))
	if f.Meta.Bayer != "BGGR" {
		t.Errorf("pattern %s, want BGGR one row and column further", f.Meta.Bayer)
	}
	for _, s := range []string{"[17:528,1:520]", "[0:5,1:5]", "[1:5]", "3", "[a:b,c:d]"} {
		f := scanBytes(t, "x.fits", fits(16, []int{w, h}, px, "TRIMSEC = '"+s+"'"))
		if f.Err != nil || f.Image.Width != w || len(f.Warnings) == 0 {
			t.Errorf("TRIMSEC %s: %+v %v %q", s, f.Image, f.Err, f.Warnings)
		}
	}
}

// sameRows reads a frame by strips of n rows and compares with its pixels.
func sameRows(t *testing.T, f *Frame, want []float32, n int) {
	t.Helper()
	r, err := f.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var strip Image
	var got []float32
	for {
		rows, err := r.Rows(&strip, n)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if rows != strip.Height || strip.Width != f.Image.Width {
			t.Fatalf("%d rows in a strip of %d x %d", rows, strip.Width, strip.Height)
		}
		if r.WholeNumbers() && strip.U16 == nil {
			t.Error("promised whole numbers, came as float32")
		}
		got = append(got, strip.Float32(0, nil)...)
	}
	sameFloats(t, got, want)
}

// TestRows: strips of any height, plain, gzipped and compressed, hold the same
// as the whole image; rows that are skipped are missing and no others.
func TestRows(t *testing.T) {
	const w, h = 50, 37
	rng := rand.New(rand.NewPCG(7, 8))
	px, fl := make([]int16, 3*w*h), make([]float32, 3*w*h)
	for i := range px {
		px[i] = int16(rng.Uint32())
		fl[i] = float32(rng.NormFloat64())
	}
	for name, file := range map[string][]byte{
		"unsigned": fits(16, []int{w, h}, px[:w*h], "BZERO   = 32768"),
		"signed":   fits(16, []int{w, h}, px[:w*h]),
		"float":    fits(-32, []int{w, h}, fl[:w*h]),
		"cube":     fits(16, []int{w, h, 3}, px, "BZERO   = 32768"),
		"trimmed":  fits(16, []int{w, h, 3}, px, "BZERO   = 32768", "TRIMSEC = '[5:40,3:30]'"),
		"gzip":     zipped(fits(16, []int{w, h, 3}, px, "TRIMSEC = '[5:40,3:30]'")),
	} {
		t.Run(name, func(t *testing.T) {
			f := scanBytes(t, "x.fits", file)
			var im Image
			if err := f.Read(&im); err != nil {
				t.Fatal(err)
			}
			var want []float32
			for p := range im.Planes {
				want = append(want, im.Float32(p, nil)...)
			}
			for _, n := range []int{1, 2, 7, 37, 1000} {
				sameRows(t, f, want, n)
			}
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			var strip Image
			row := 0
			for {
				n, err := r.Rows(&strip, 4)
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				sameFloats(t, strip.Float32(0, nil), want[row*im.Width:(row+n)*im.Width])
				r.Skip(5)
				row = min(row+n+5, im.Height*im.Planes)
			}
			if row != im.Height*im.Planes {
				t.Errorf("ended at row %d of %d", row, im.Height*im.Planes)
			}
		})
	}
}

// TestBuffersAreReused: a second frame of the same shape takes no new memory
// worth the name, and kinds of samples may take turns.
func TestBuffersAreReused(t *testing.T) {
	const w, h = 500, 400
	a := scanBytes(t, "x.fits", fits(16, []int{w, h}, make([]int16, w*h), "BZERO   = 32768"))
	halves := make([]float32, w*h)
	for i := range halves {
		halves[i] = 0.5
	}
	b := scanBytes(t, "x.fits", fits(-32, []int{w, h}, halves))
	var im Image
	read := func(f *Frame) {
		if err := f.Read(&im); err != nil {
			t.Fatal(err)
		}
		if (im.U16 == nil) == (im.F32 == nil) {
			t.Fatal("not exactly one kind of samples")
		}
	}
	read(a)
	read(b)
	for range 3 {
		for _, f := range []*Frame{a, b} {
			// Header and strip buffer are taken anew each time: 0.3 MB of the 1.2 MB for pixels.
			if took := allocated(func() { read(f) }); took > 600<<10 {
				t.Errorf("%d kB for another frame", took>>10)
			}
		}
	}
}

func Example() {
	// A stack in bounded memory: open every frame once and take strips.
	frames, err := Scan(context.Background(), []string{"../../testdata/fits/field-a"}, DefaultScanOptions)
	if err != nil {
		fmt.Println(err)
		return
	}
	var strip Image
	for _, f := range frames {
		r, err := f.Open()
		if err != nil {
			fmt.Println(f.Name, err)
			continue
		}
		rows := 0
		for {
			n, err := r.Rows(&strip, 64)
			if err == io.EOF {
				break
			}
			if err != nil {
				fmt.Println(f.Name, err)
				break
			}
			rows += n
		}
		r.Close()
		fmt.Println(f.Name, f.Kind, rows)
	}
	// Output:
	// sub_0037.fits.gz light 512
	// sub_0092.fits.gz light 512
	// sub_0100.fits.gz light 512
}
