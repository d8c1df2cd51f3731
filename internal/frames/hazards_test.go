package frames

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
)

// Inputs that make the FITS library in use panic, take all memory or misread
// in silence, found by running it on crafted files. None may do so here. The
// numbers in front of the names are those of the list that they come from;
// what is right for each follows from FITS Standard 4.0.

// outcome is what should become of a hazardous file.
type outcome int

const (
	readable outcome = iota
	malformed
	unsupported
	truncated
)

func (o outcome) matches(err error) bool {
	var fe *FormatError
	var ue *UnsupportedError
	var te *TruncatedError
	switch o {
	case readable:
		return err == nil
	case malformed:
		return errors.As(err, &fe)
	case unsupported:
		return errors.As(err, &ue)
	default:
		return errors.As(err, &te)
	}
}

// twoByTwo is an image of 2 x 2 samples 1, 2, 3, 4 with more cards.
func twoByTwo(more ...string) []byte {
	return fits(16, []int{2, 2}, []int16{1, 2, 3, 4}, more...)
}

// headed is a file of the given cards and one block of data.
func headed(lines ...string) []byte {
	return append(cards(lines...), make([]byte, 2880)...)
}

const simple, bits16, naxis2 = "SIMPLE  =                    T", "BITPIX  =                   16", "NAXIS   =                    2"

// table is a binary table extension before an image extension.
func withTable(lines ...string) []byte {
	file := cards(simple, "BITPIX  = 8", "NAXIS   = 0")
	file = append(file, cards(append([]string{"XTENSION= 'BINTABLE'", "BITPIX  = 8"}, lines...)...)...)
	return append(file, make([]byte, 2880)...)
}

func TestHazards(t *testing.T) {
	far := func(n int) string { return fmt.Sprintf("NAXIS%d  = 1", n) }
	for _, tc := range []struct {
		name string
		file []byte
		want outcome
	}{
		{"1 CONTINUE as first card", headed("CONTINUE  'abc'", simple, bits16, naxis2), malformed},
		{"1 CONTINUE as second card", twoByTwoWith("CONTINUE  'abc'"), readable},
		{"2 CONTINUE after a number", twoByTwo("GAIN    = 5", "CONTINUE  'abc'"), readable},
		{"2 CONTINUE after COMMENT", twoByTwo("COMMENT x", "CONTINUE  'abc'"), readable},
		{"2 CONTINUE after undefined", twoByTwo("GAIN    =", "CONTINUE  'abc'"), readable},
		{"3 CONTINUE with blank remainder", twoByTwo("OBJECT  = 'M 33&'", "CONTINUE"), readable},
		{"4 NAXIS a real number", headed(simple, bits16, "NAXIS   = 2.5", "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"4 NAXIS whole but real", headed(simple, bits16, "NAXIS   = 2.0", "NAXIS1  = 2", "NAXIS2  = 2"), readable},
		{"4 NAXIS a string", headed(simple, bits16, "NAXIS   = 'two'"), malformed},
		{"4 NAXIS undefined", headed(simple, bits16, "NAXIS   ="), malformed},
		{"4 NAXIS lower-case exponent", headed(simple, bits16, "NAXIS   = 2e0", "NAXIS1  = 2", "NAXIS2  = 2"), readable},
		{"4 NAXIS beyond 64 bits", headed(simple, bits16, "NAXIS   = 99999999999999999999"), malformed},
		{"5 NAXIS negative", headed(simple, bits16, "NAXIS   = -2"), malformed},
		{"5 NAXIS 1e14", headed(simple, bits16, "NAXIS   = 100000000000000"), malformed},
		{"6 NAXIS 1e9", headed(simple, bits16, "NAXIS   = 1000000000"), malformed},
		{"6 NAXIS 1e11", headed(simple, bits16, "NAXIS   = 100000000000"), malformed},
		{"7 NAXIS1 a string", headed(simple, bits16, naxis2, "NAXIS1  = 'wide'", "NAXIS2  = 2"), malformed},
		{"7 NAXIS1 a fraction", headed(simple, bits16, naxis2, "NAXIS1  = 2.5", "NAXIS2  = 2"), malformed},
		{"7 NAXIS1 undefined", headed(simple, bits16, naxis2, "NAXIS1  =", "NAXIS2  = 2"), malformed},
		{"7 NAXIS1 beyond 64 bits", headed(simple, bits16, naxis2, "NAXIS1  = 99999999999999999999", "NAXIS2  = 2"), malformed},
		{"8 BITPIX undefined", headed(simple, "BITPIX  =", naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"8 BITPIX a string", headed(simple, "BITPIX  = 'a'", naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"8 BITPIX a fraction", headed(simple, "BITPIX  = 16.5", naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"8 HIERARCH BITPIX", twoByTwo("HIERARCH BITPIX = 'a'"), readable},
		{"9 HIERARCH NAXIS1000", twoByTwo("HIERARCH NAXIS1000 = 1"), readable},
		{"9 1000 axes", headed(simple, bits16, "NAXIS   = 1000", far(1)), malformed},
		{"11 one negative axis", headed(simple, bits16, naxis2, "NAXIS1  = -4", "NAXIS2  = 2"), malformed},
		{"11 bytes beyond 2^48", headed(simple, bits16, naxis2, "NAXIS1  = 1000000000", "NAXIS2  = 1000000000"), malformed},
		{"12 20 GB in a header-only file", cards(simple, bits16, naxis2, "NAXIS1  = 100000", "NAXIS2  = 100000"), unsupported},
		{"12 1 GB in a header-only file", cards(simple, bits16, naxis2, "NAXIS1  = 25000", "NAXIS2  = 20000"), truncated},
		{"13 product wraps at 2^32 x 2^32", headed(simple, bits16, naxis2, "NAXIS1  = 4294967296", "NAXIS2  = 4294967296"), malformed},
		{"13 product wraps at 2^31 x 2^30 x 64 bit", headed(simple, "BITPIX  = 64", naxis2, "NAXIS1  = 2147483648", "NAXIS2  = 1073741824"), malformed},
		{"14 two negative axes", headed(simple, bits16, naxis2, "NAXIS1  = -4", "NAXIS2  = -4"), malformed},
		{"15 XTENSION no string", append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), headed("XTENSION= 7", "BITPIX  = 8", "NAXIS   = 0")...), unsupported},
		{"16 table without axes", withTable("NAXIS   = 0", "TFIELDS = 1"), unsupported},
		{"17 TFIELDS a string", withTable("NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "TFIELDS = 'x'", "ZIMAGE  = T", "ZBITPIX = 16", "ZNAXIS  = 2", "ZNAXIS1 = 2", "ZNAXIS2 = 1"), malformed},
		{"17 PCOUNT a string", withTable("NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "PCOUNT  = 'x'"), malformed},
		{"18 table of 1e6 x 1e6", withTable("NAXIS   = 2", "NAXIS1  = 1000000", "NAXIS2  = 1000000"), truncated},
		{"18 PCOUNT 1e12", withTable("NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "PCOUNT  = 1000000000000"), truncated},
		{"19 PCOUNT negative", withTable("NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "PCOUNT  = -8"), malformed},
		{"20 THEAP beyond the unit", tiledTable("THEAP   = 99999"), malformed},
		{"21 TFIELDS 1e15", tiledTable("TFIELDS = 1000000000000000"), malformed},
		{"21 TFIELDS negative", tiledTable("TFIELDS = -1"), malformed},
		{"22 TTYPE absent", tiledTable("TFORM1  = '1PB'", "TTYPE1  ="), malformed},
		{"25 TFORM without letter", tiledTable("TFORM1  = '1P'"), malformed},
		{"25 TFORM empty", tiledTable("TFORM1  = ''"), malformed},
		{"26 TFORM .A", tiledTable("TFORM1  = '.A'"), malformed},
		{"27 no END", bytes.Repeat([]byte(simple+strings.Repeat(" ", 80-len(simple))), 36*1200), malformed},
		{"27 no END in an extension", append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), extension()[:400]...), truncated},
		{"28 empty file", nil, malformed},
		{"28 gzip of nothing", zipped(nil), malformed},
		{"28 one byte", []byte("S"), malformed},
		{"30 BZERO a string", twoByTwo("BZERO   = 'x'"), readable},
		{"31 BITPIX 12", headed(simple, "BITPIX  = 12", naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"31 BITPIX 0", headed(simple, "BITPIX  = 0", naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), malformed},
		{"32 float cube", fits(-32, []int{2, 2, 3}, make([]float32, 12)), readable},
		{"35 EXTNAME no string", twoByTwo("EXTNAME = 5"), readable},
		{"36 EXTVER no integer", twoByTwo("EXTVER  = 'x'"), readable},
		{"37 HISTORY and COMMENT", twoByTwo("HISTORY a", "COMMENT b"), readable},
		{"38 HIERARCH key of 67 characters", twoByTwo("HIERARCH " + strings.Repeat("K", 67) + "='a'"), readable},
		{"44 tile count huge", tiledTable("", 1<<30, 0), malformed},
		{"45 tile count negative", tiledTable("", -5, 0), malformed},
		{"45 tile offset outside the heap", tiledTable("", 4, 5000), malformed},
		{"45 tile offset negative", tiledTable("", 4, -1), malformed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := scanBytes(t, "x.fits", tc.file)
			err := f.Err
			if err == nil {
				err = f.Read(new(Image))
			}
			if !tc.want.matches(err) {
				t.Errorf("got %v, want outcome %d", err, tc.want)
			}
		})
	}
}

// twoByTwoWith puts a card right after SIMPLE.
func twoByTwoWith(card string) []byte {
	return append(cards(simple, card, bits16, naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), bigEndian([]int16{1, 2, 3, 4})...)
}

// tiledTable is a compressed image of one tile whose header or descriptor is
// tampered with: cards given replace the good ones of the same keyword.
func tiledTable(args ...any) []byte {
	lines := []string{"XTENSION= 'BINTABLE'", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 8", "NAXIS2  = 1", "PCOUNT  = 7", "GCOUNT  = 1",
		"TFIELDS = 1", "TTYPE1  = 'COMPRESSED_DATA'", "TFORM1  = '1PB'", "ZIMAGE  = T", "ZBITPIX = 16", "ZNAXIS  = 2",
		"ZNAXIS1 = 8", "ZNAXIS2 = 1", "ZCMPTYPE= 'RICE_1'", "ZNAME1  = 'BYTEPIX'", "ZVAL1   = 2"}
	descriptor := []int32{7, 0}
	numbers := 0
	for _, a := range args {
		switch a := a.(type) {
		case string:
			for i, l := range lines {
				if a != "" && l[:8] == a[:8] {
					lines[i], a = a, ""
				}
			}
			if a != "" {
				lines = append(lines, a)
			}
		case int:
			descriptor[numbers] = int32(a)
			numbers++
		}
	}
	unit := append(bigEndian(descriptor)[:8], 0x00, 0x0a, 0x39, 0xb7, 0xb5, 0x00, 0x08)
	file := append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), cards(lines...)...)
	return append(file, pad(unit, 0)...)
}

// TestSilentMisreads holds what the library accepts but gets wrong.
func TestSilentMisreads(t *testing.T) {
	number := func(get func(m Meta) float64, want float64) func(*testing.T, *Frame) {
		return func(t *testing.T, f *Frame) {
			if got := get(f.Meta); got != want {
				t.Errorf("got %v, want %v", got, want)
			}
		}
	}
	exposure := func(m Meta) float64 { return m.Exposure }
	gain := func(m Meta) float64 { return m.GainSetting }
	temp := func(m Meta) float64 { return m.SensorTemp }
	for _, tc := range []struct {
		name  string
		file  []byte
		check func(*testing.T, *Frame)
	}{
		{"exponent without point", twoByTwo("EXPTIME = 1e2"), number(exposure, 100)},
		{"Fortran exponent", twoByTwo("EXPTIME = 1.5D3"), number(exposure, 1500)},
		{"no digit before the point", twoByTwo("EXPTIME = .5"), number(exposure, 0.5)},
		{"number beyond float64", twoByTwo("EXPTIME = 1.0E400", "EXPOSURE= 30"), number(exposure, 30)},
		{"NaN", twoByTwo("EXPTIME = NaN", "EXPOSURE= 30"), number(exposure, 30)},
		{"unit after the number", twoByTwo("CCD-TEMP= -10.0 degC"), number(temp, -10)},
		{"no blank after the equals sign", twoByTwo("GAIN    =120"), number(gain, 120)},
		{"tab before the value", twoByTwo("GAIN    =\t120"), number(gain, 120)},
		{"unquoted date", twoByTwo("DATE-OBS= 2024-01-01T22:00:00"), func(t *testing.T, f *Frame) {
			if f.Meta.Start.Format("2006-01-02 15:04") != "2024-01-01 22:00" {
				t.Errorf("start %v", f.Meta.Start)
			}
		}},
		{"unterminated string", twoByTwo("OBJECT  = 'M 33"), func(t *testing.T, f *Frame) {
			if f.Meta.Target != "M 33" {
				t.Errorf("target %q", f.Meta.Target)
			}
		}},
		{"lower-case logical", headed("SIMPLE  = t", bits16, naxis2, "NAXIS1  = 2", "NAXIS2  = 2"), nil},
		{"Latin-1", twoByTwo("OBSERVER= 'x'", "OBJECT  = 'N\xe9buleuse'"), func(t *testing.T, f *Frame) {
			if f.Meta.Target != "Nébuleuse" {
				t.Errorf("target %q", f.Meta.Target)
			}
		}},
		{"duplicate keyword: the first", twoByTwo("EXPTIME = 10", "EXPTIME = 20"), func(t *testing.T, f *Frame) {
			if f.Meta.Exposure != 10 || !warned(f, CardTwice) {
				t.Errorf("exposure %v, warnings %v", f.Meta.Exposure, f.Findings)
			}
		}},
		{"duplicate structural keyword: the first", twoByTwo("NAXIS1  = 7"), func(t *testing.T, f *Frame) {
			if f.Image.Width != 2 {
				t.Errorf("width %d", f.Image.Width)
			}
		}},
		{"HIERARCH does not alias NAXIS1", twoByTwo("HIERARCH NAXIS1 = 7"), func(t *testing.T, f *Frame) {
			if f.Image.Width != 2 {
				t.Errorf("width %d", f.Image.Width)
			}
		}},
		{"HIERARCH END ends nothing", twoByTwo("HIERARCH END = 1", "EXPTIME = 10"), number(exposure, 10)},
		{"CONTINUE without & keeps the last letter", twoByTwo("OBJECT  = 'M 33'", "CONTINUE  'x'"), func(t *testing.T, f *Frame) {
			if f.Meta.Target != "M 33" {
				t.Errorf("target %q", f.Meta.Target)
			}
		}},
		{"padding missing", twoByTwo()[:2888], func(t *testing.T, f *Frame) {
			if !warned(f, PaddingMissing) {
				t.Errorf("warnings %v", f.Findings)
			}
		}},
		{"trailing garbage", append(twoByTwo(), []byte("garbage")...), nil},
		{"trailing zero block", append(twoByTwo(), make([]byte, 2880)...), nil},
		{"unknown extension first", append(append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"),
			headed("XTENSION= 'FOREIGN '", "BITPIX  = 8", "NAXIS   = 1", "NAXIS1  = 100")...), extension()...), nil},
		{"PCOUNT and GCOUNT of a skipped extension", append(append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"),
			append(cards("XTENSION= 'FOREIGN '", "BITPIX  = 8", "NAXIS   = 1", "NAXIS1  = 100", "PCOUNT  = 2000", "GCOUNT  = 2"), make([]byte, 2*2880)...)...), extension()...), nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := scanBytes(t, "x.fits", tc.file)
			if f.Err != nil {
				t.Fatal(f.Err)
			}
			var im Image
			if err := f.Read(&im); err != nil || len(im.U16) != 4 {
				t.Fatalf("%d samples, %v", len(im.U16), err)
			}
			if tc.check != nil {
				tc.check(t, f)
			}
		})
	}
	f := scanBytes(t, "x.fits", headed("SIMPLE  = F", bits16, naxis2, "NAXIS1  = 2", "NAXIS2  = 2"))
	if !unsupported.matches(f.Err) {
		t.Errorf("SIMPLE = F: %v", f.Err)
	}
}

// extension is an image extension of 2 x 2 samples.
func extension() []byte {
	return append(cards("XTENSION= 'IMAGE   '", bits16, naxis2, "NAXIS1  = 2", "NAXIS2  = 2", "PCOUNT  = 0", "GCOUNT  = 1"), bigEndian([]int16{1, 2, 3, 4})...)
}
