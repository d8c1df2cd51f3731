package frames

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/astrogo/fitsio"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"fitsqa/internal/stats"
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
		if (name == "physical") != warned(f, ZeroIgnored) {
			t.Errorf("%s: warnings %v", name, f.Findings)
		}
	}
}

// frame16 is one of whole numbers around a level, with noise, as a camera writes it.
func frame16(level, noise int) []int16 {
	rng := rand.New(rand.NewPCG(3, 4))
	px := make([]int16, 60*60)
	for i := range px {
		px[i] = int16(level + rng.IntN(2*noise+1) - noise - 32768)
	}
	return px
}

const unsigned = "BZERO   = 32768"

// TestLostBZERO: 16 bits without it are shifted where a frame of their camera lies far
// below zero, also those that are bright; what was taken off leaves a sky about zero.
func TestLostBZERO(t *testing.T) {
	dir := t.TempDir()
	camera := func(name string) string { return "INSTRUME= '" + name + "'" }
	writeIn(t, dir, "dark.fits", fits(16, []int{60, 60}, frame16(500, 20), camera("A")))
	writeIn(t, dir, "flat.fits", fits(16, []int{60, 60}, frame16(40000, 200), camera("A")))
	writeIn(t, dir, "kept.fits", fits(16, []int{60, 60}, frame16(500, 20), camera("A"), unsigned))
	writeIn(t, dir, "sky.fits", fits(16, []int{60, 60}, frame16(32768-300, 20), camera("B")))
	for name, f := range byName(scanDir(t, dir)) {
		want := map[string]float32{"dark.fits": 500, "flat.fits": 40000, "kept.fits": 500, "sky.fits": -300}[name]
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(name, err)
		}
		if got := stats.Median(im.Float32(0, nil)); math.Abs(got-float64(want)) > 15 { // of 3600 within 200: 3 standard errors
			t.Errorf("%s: level %g, want %g", name, got, want)
		}
		if lost := name == "dark.fits" || name == "flat.fits"; lost != warned(f, ZeroLost) {
			t.Errorf("%s: %v", name, f.Findings)
		}
	}
}

// TestDivided: samples that are whole numbers over 65535 or 65536 are read as these beside
// whole numbers of their camera; a picture that was worked on between 0 and 1 is not, nor
// is a camera of which all frames are parts of 1.
func TestDivided(t *testing.T) {
	dir := t.TempDir()
	camera := func(name string) string { return "INSTRUME= '" + name + "'" }
	whole := frame16(500, 20)
	divided := func(by float64) []float32 {
		px := make([]float32, len(whole))
		for i, v := range whole {
			px[i] = float32((float64(v) + 32768) / by)
		}
		return px
	}
	writeIn(t, dir, "dark.fits", fits(16, []int{60, 60}, whole, camera("A"), unsigned))
	writeIn(t, dir, "65535.fits", fits(-32, []int{60, 60}, divided(65535), camera("A")))
	writeIn(t, dir, "65536.fits", fits(-32, []int{60, 60}, divided(65536), camera("A")))
	writeIn(t, dir, "60000.fits", fits(-32, []int{60, 60}, divided(60000), camera("A")))
	writeIn(t, dir, "alone.fits", fits(-32, []int{60, 60}, divided(65535), camera("B")))
	for name, f := range byName(scanDir(t, dir)) {
		if name == "dark.fits" {
			continue
		}
		var im Image
		if err := f.Read(&im); err != nil {
			t.Fatal(name, err)
		}
		want := name == "65535.fits" || name == "65536.fits"
		if want != warned(f, Divided) || want != (im.U16 != nil && im.U16[7] == uint16(whole[7])^0x8000) {
			t.Errorf("%s: %v, %v", name, f.Findings, im.Float32(0, nil)[7])
		}
	}
}

// TestLowByteFirst: samples in the writing machine's order are refused, whatever their
// level; bright flats, a few levels and 8 bits moved up are no such.
func TestLowByteFirst(t *testing.T) {
	for _, c := range []struct{ level, noise, times int }{{500, 3, 1}, {500, 20, 1}, {3000, 60, 1}, {20000, 150, 1}, {1200, 10, 16}, {200, 1, 1}, {90, 12, 256}, {60000, 400, 1}} {
		px := frame16(c.level, c.noise)
		swapped := make([]int16, len(px))
		for i, v := range px {
			px[i] = int16((int(v)+32768)*c.times - 32768)
			swapped[i] = int16(bits.ReverseBytes16(uint16(px[i])))
		}
		var refused *UnsupportedError
		if f := scanBytes(t, "x.fits", fits(16, []int{60, 60}, px, unsigned)); f.Err != nil {
			t.Errorf("%v: %v", c, f.Err)
		}
		if f := scanBytes(t, "x.fits", fits(16, []int{60, 60}, swapped, unsigned)); errors.As(f.Err, &refused) != (c.times < 256) {
			t.Errorf("%v, bytes exchanged: %v", c, f.Err)
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
	if !(math.Abs(v) <= math.MaxFloat32) {
		v = math.NaN()
	}
	return float32(v)
}
