package frames

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The fuzz targets know one rule each beside "no panic": what is accepted must
// be consistent. Seeds are the odd files of the other tests and small real
// ones; what fuzzing turned up lies in testdata/fuzz.

// cardLines makes a header of the lines of a text, cut or filled to 80 bytes,
// so that fuzzing can change cards without shifting the ones behind them.
func cardLines(text string) []byte {
	var b []byte
	for line := range strings.SplitSeq(text, "\n") {
		b = append(b, line[:min(len(line), 80)]...)
		b = append(b, strings.Repeat(" ", 80-min(len(line), 80))...)
	}
	return pad(b, ' ')
}

// textOf is the other way round: the cards of a header, without END and blanks.
func textOf(header []byte) string {
	var lines []string
	for ; len(header) >= 80; header = header[80:] {
		lines = append(lines, strings.TrimRight(string(header[:80]), " "))
		if lines[len(lines)-1] == "END" {
			break
		}
	}
	return strings.Join(lines, "\n")
}

// FuzzHeader: the header scan and everything that is learnt from its cards.
func FuzzHeader(f *testing.F) {
	f.Add(textOf(cards(imageCards(16, []int{2, 2}, "EXPTIME = 1.5D3", "OBJECT  = 'M 33&'", "CONTINUE  'x'", "DATE-OBS= '31/08/93'", "RA      = ' 18:15:29'")...)))
	f.Add(textOf(cards("SIMPLE  = T", "HIERARCH ESO DET CHIP1 GAIN = 1.25 / e-/ADU", "BINNING = '2x2'", "TRIMSEC = '[1:2,1:2]'", "CCD-TEMP= '11 C'")))
	f.Add(textOf(tiledTable("")[2880:]))
	f.Fuzz(func(t *testing.T, text string) {
		b := cardLines(text)
		h, err := readHeader(bytes.NewReader(b))
		if err != nil {
			return
		}
		for _, first := range []bool{true, false} {
			u, err := h.structure(first)
			if err != nil {
				continue
			}
			if u.dataBytes < 0 || u.dataBytes > maxBytes {
				t.Fatalf("data unit of %d bytes", u.dataBytes)
			}
			found, _, err := h.image(u)
			if err != nil || found == nil {
				continue
			}
			if found.width < 1 || found.height < 1 || found.imageBytes() < 1 {
				t.Fatalf("image of %d x %d", found.width, found.height)
			}
			m := NoMeta()
			found.sections(&m)
			if !found.trim.within(found.width, found.height) {
				t.Fatalf("trimmed to %+v of %d x %d", found.trim, found.width, found.height)
			}
			for _, w := range found.meta(&m) {
				for _, v := range w.Values {
					if v.Text != Printable(v.Text) {
						t.Fatalf("%s: %q is not safe to print", w.Code, v.Text)
					}
				}
			}
			isMaster(h, (&lookup{h: h}).kindText(), "x.fits", Dark)
		}
	})
}

// FuzzFile: a whole file through scan, reading, rows and hash, plain, gzipped
// or tile-compressed. What the scan accepts must be read, or fail with one of
// the typed errors; strips must add up to the whole. The file is a header, a
// second one perhaps, and data.
func FuzzFile(f *testing.F) {
	add := func(file []byte, zip bool) {
		first, rest := textOf(file), file[2880:]
		if bytes.HasPrefix(rest, []byte("XTENSION")) {
			f.Add(first, textOf(rest), rest[2880:], zip)
		} else {
			f.Add(first, "", rest[:min(200, len(rest))], zip)
		}
	}
	add(twoByTwo("BZERO   = 32768"), false)
	add(fits(-32, []int{3, 2, 3}, make([]float32, 18)), false)
	add(twoByTwo("TRIMSEC = '[2:2,1:2]'"), true)
	add(tiledTable(""), false)
	add(tiledTable(""), true)
	add(append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), extension()...), false)
	dir := f.TempDir()
	path := filepath.Join(dir, "x.fits")
	f.Fuzz(func(t *testing.T, first, second string, data []byte, zip bool) {
		b := cardLines(first)
		if second != "" {
			b = append(b, cardLines(second)...)
		}
		b = append(b, data...)
		if zip {
			b = zipped(b)
		}
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		opt := ScanOptions{Workers: 1, MaxBytes: 8 << 20}
		fr := &Frame{Path: path, Name: "x.fits"}
		fr.scanUnguarded(opt) // without the recover that would hide a panic
		var im Image
		if fr.Err != nil {
			if !typed(fr.Err) {
				t.Fatalf("scan: %v", fr.Err)
			}
			return
		}
		if err := fr.Read(&im); err != nil {
			if !typed(err) {
				t.Fatalf("read: %v", err)
			}
			return
		}
		if n := im.Width * im.Height * im.Planes; n != len(im.U16)+len(im.F32) || n*2 > int(opt.MaxBytes) {
			t.Fatalf("%d samples in %d x %d x %d", len(im.U16)+len(im.F32), im.Width, im.Height, im.Planes)
		}
		r, err := fr.Open()
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		var strip Image
		rows := 0
		for rows < im.Height*im.Planes {
			n, err := r.Rows(&strip, 7)
			if err != nil {
				t.Fatalf("rows: %v", err)
			}
			whole := im.F32
			if im.U16 != nil {
				whole = make([]float32, len(im.U16))
				for i, v := range im.U16 {
					whole[i] = float32(v)
				}
			}
			for i, v := range strip.Float32(0, nil) {
				if w := whole[rows*im.Width+i]; v != w && (v == v || w == w) {
					t.Fatalf("row %d: %v in the strip, %v in the whole", rows+i/im.Width, v, w)
				}
			}
			rows += n
		}
		if _, err := fr.ContentHash(); err != nil {
			t.Fatalf("hash: %v", err)
		}
	})
}

func typed(err error) bool {
	var damaged *damagedError
	return errors.As(err, &damaged) || malformed.matches(err) || unsupported.matches(err) || truncated.matches(err)
}

// FuzzGzip: damaged gzip around a good file, and a good gzip around anything.
func FuzzGzip(f *testing.F) {
	good := zipped(fits(16, []int{40, 30}, ramp(1200), "BZERO   = 32768"))
	f.Add(good[4:])
	f.Add(append(good[4:len(good):len(good)], good...))
	f.Add(good[4 : len(good)/2])
	dir := f.TempDir()
	path := filepath.Join(dir, "x.fits.gz")
	f.Fuzz(func(t *testing.T, b []byte) {
		b = append([]byte{0x1f, 0x8b, 8, 0}, b...)
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		fr := &Frame{Path: path, Name: "x.fits.gz"}
		fr.scanUnguarded(ScanOptions{Workers: 1, MaxBytes: 8 << 20})
		if fr.Err == nil {
			fr.Err = fr.Read(new(Image))
		}
		if fr.Err != nil && !typed(fr.Err) {
			t.Fatal(fr.Err)
		}
	})
}
