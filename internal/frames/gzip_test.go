package frames

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
)

// ramp is n samples that count up.
func ramp(n int) []int16 {
	px := make([]int16, n)
	for i := range px {
		px[i] = int16(i)
	}
	return px
}

func TestGzip(t *testing.T) {
	plain := fits(16, []int{100, 100}, ramp(10000), "BZERO   = 32768")
	want := readBytes(t, plain)
	middle := 7777
	for name, tc := range map[string]struct {
		file string
		body []byte
	}{
		"one member":          {"x.fits.gz", zipped(plain)},
		"several members":     {"x.fits.gz", append(zipped(plain[:middle]), zipped(plain[middle:])...)},
		"wrong extension":     {"x.fits", zipped(plain)},
		"gz that is plain":    {"x.fits.gz", plain},
		"garbage after":       {"x.fits.gz", append(zipped(plain), []byte("garbage of some length")...)},
		"no padding":          {"x.fits.gz", zipped(plain[:2880+20000])},
		"behind an empty HDU": {"x.fits.gz", zipped(append(cards(simple, "BITPIX  = 8", "NAXIS   = 0"), bytes.Replace(plain, []byte("SIMPLE  =                    T"), []byte("XTENSION= 'IMAGE   '          "), 1)...))},
	} {
		t.Run(name, func(t *testing.T) {
			f := scanBytes(t, tc.file, tc.body)
			if f.Err != nil {
				t.Fatal(f.Err)
			}
			var im Image
			if err := f.Read(&im); err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(im.U16, want.U16) {
				t.Error("other pixels than in the plain file")
			}
			if zip := bytes.HasPrefix(tc.body, []byte{0x1f, 0x8b}); zip != (f.Image.Compression == "gzip") {
				t.Errorf("compression %q", f.Image.Compression)
			}
		})
	}
}

func TestGzipTruncated(t *testing.T) {
	px := make([]int16, 10000)
	seed := uint32(1)
	for i := range px { // noise, so that gzip cannot shrink it
		seed = seed*1664525 + 1013904223
		px[i] = int16(seed >> 16)
	}
	plain := fits(16, []int{100, 100}, px, "BZERO   = 32768")
	z := zipped(plain)
	f := scanBytes(t, "x.fits.gz", z[:len(z)/2])
	var te *TruncatedError
	if !errors.As(f.Err, &te) {
		t.Fatalf("half a gzip file: %v", f.Err)
	}
	// Half the packed bytes are about half the unpacked ones, as noise does not pack.
	if share := float64(te.Have) / float64(te.Want); share < 0.4 || share > 0.6 {
		t.Errorf("%.2f of the file arrived, want about half", share)
	}
	if f := scanBytes(t, "x.fits.gz", z[:15]); !malformed.matches(f.Err) && !truncated.matches(f.Err) {
		t.Errorf("15 bytes of gzip: %v", f.Err)
	}
	if f := scanBytes(t, "x.fits.gz", z[:1]); !malformed.matches(f.Err) {
		t.Errorf("1 byte of gzip: %v", f.Err)
	}
	z[len(z)/2] ^= 0xff
	f = scanBytes(t, "x.fits.gz", z)
	if f.Err == nil {
		f.Err = f.Read(new(Image))
	}
	if f.Err == nil {
		t.Log("a flipped bit inside stored noise changes a pixel and nothing else")
	}
}

// TestGzipBomb: a small file that unpacks to far more than its header claims
// is read to the end of its image and no further; one whose header claims more
// than deflate can hold is refused without unpacking.
func TestGzipBomb(t *testing.T) {
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	w.Write(fits(16, []int{100, 100}, ramp(10000), "BZERO   = 32768"))
	zeros := make([]byte, 1<<20)
	for range 128 { // sixteen times what may be taken, in an eighth of a megabyte
		w.Write(zeros)
	}
	w.Close()
	f := scanBytes(t, "x.fits.gz", z.Bytes())
	if f.Err != nil {
		t.Fatal(f.Err)
	}
	var im Image
	if took := allocated(func() {
		if err := f.Read(&im); err != nil {
			t.Error(err)
		}
	}); took > 8<<20 {
		t.Errorf("reading took %d MB of memory", took>>20)
	}

	// An image behind tables that unpack to more than the cap.
	table := cards("XTENSION= 'FOREIGN '", "BITPIX  = 8", "NAXIS   = 1", keyed("NAXIS1", 4<<20))
	behind := cards(simple, "BITPIX  = 8", "NAXIS   = 0")
	for range 3 {
		behind = append(append(behind, table...), pad(make([]byte, 4<<20), 0)...)
	}
	dir := write(t, "x.fits.gz", zipped(append(behind, extension()...)))
	opt := DefaultScanOptions
	for limit, want := range map[int64]outcome{10 << 20: unsupported, 20 << 20: readable} {
		opt.MaxBytes = limit
		fs, err := Scan(context.Background(), []string{dir}, opt)
		if err != nil || !want.matches(fs[0].Err) {
			t.Errorf("cap of %d MB: %v", limit>>20, fs[0].Err)
		}
	}

	claim := zipped(cards(imageCards(16, []int{25000, 20000})...)) // 1 GB
	f = scanBytes(t, "x.fits.gz", claim)
	if !malformed.matches(f.Err) || !strings.Contains(f.Err.Error(), "claims") {
		t.Errorf("a claim beyond deflate: %v", f.Err)
	}
	// A claim that deflate could hold, but which is not there.
	var half bytes.Buffer
	w = gzip.NewWriter(&half)
	w.Write(cards(imageCards(16, []int{25000, 20000})...))
	noise := make([]byte, 2<<20)
	seed := uint32(1)
	for i := range noise {
		seed = seed*1664525 + 1013904223
		noise[i] = byte(seed >> 24)
	}
	w.Write(noise)
	w.Close()
	body := half.Bytes()
	copy(body[len(body)-4:], []byte{0x40, 0xd5, 0x9a, 0x3b}) // and the member lies about its length
	took := allocated(func() { f = scanBytes(t, "x.fits.gz", body) })
	if f.Err == nil {
		took += allocated(func() { f.Err = f.Read(&im) })
	}
	if f.Err == nil || took > 100<<20 {
		t.Errorf("a claim that is not there: %v, %d MB", f.Err, took>>20)
	}
}
