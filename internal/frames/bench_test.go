package frames

import (
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/astrogo/fitsio"
)

// benchFile is a 16-bit frame of 6248 x 4176 pixels (26 megapixels).
func benchFile(b *testing.B) *Frame {
	b.Helper()
	const w, h = 6248, 4176
	px := make([]byte, 2*w*h)
	seed := uint32(1)
	for i := 0; i < len(px); i += 2 {
		seed = seed*1664525 + 1013904223
		px[i], px[i+1] = 0x83, byte(seed>>24)
	}
	dir := b.TempDir()
	p := filepath.Join(dir, "frame.fits")
	if err := os.WriteFile(p, append(cards(imageCards(16, []int{w, h}, "BZERO   = 32768")...), pad(px, 0)...), 0o666); err != nil {
		b.Fatal(err)
	}
	return scanDir(b, dir)[0]
}

const benchPixels = 6248 * 4176

func BenchmarkRead26Mpx(b *testing.B) {
	f := benchFile(b)
	var im Image
	f.Read(&im)
	b.SetBytes(2 * benchPixels)
	for b.Loop() {
		if err := f.Read(&im); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPixels, "ns/px")
}

func BenchmarkRows26Mpx(b *testing.B) {
	f := benchFile(b)
	var im Image
	b.SetBytes(2 * benchPixels)
	for b.Loop() {
		r, err := f.Open()
		if err != nil {
			b.Fatal(err)
		}
		for {
			if _, err := r.Rows(&im, 64); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
		r.Close()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPixels, "ns/px")
}

// BenchmarkPlainRead26Mpx is the floor: the bytes into a buffer, undecoded.
func BenchmarkPlainRead26Mpx(b *testing.B) {
	f := benchFile(b)
	buf := make([]byte, f.Size)
	b.SetBytes(2 * benchPixels)
	for b.Loop() {
		file, err := os.Open(f.Path)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := io.ReadFull(file, buf); err != nil {
			b.Fatal(err)
		}
		file.Close()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPixels, "ns/px")
}

// BenchmarkFitsio26Mpx decodes the same frame through fitsio and its Raw bytes.
func BenchmarkFitsio26Mpx(b *testing.B) {
	f := benchFile(b)
	dst := make([]uint16, benchPixels)
	b.SetBytes(2 * benchPixels)
	for b.Loop() {
		file, err := os.Open(f.Path)
		if err != nil {
			b.Fatal(err)
		}
		hdu, err := fitsio.NewDecoder(file).DecodeHDU()
		if err != nil {
			b.Fatal(err)
		}
		decodeShorts(dst, hdu.(fitsio.Image).Raw(), 0x8000)
		file.Close()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPixels, "ns/px")
}

func BenchmarkScan(b *testing.B) {
	f := benchFile(b)
	for b.Loop() {
		g := &Frame{Path: f.Path, Name: f.Name}
		g.scan(DefaultScanOptions)
		if g.Err != nil {
			b.Fatal(g.Err)
		}
	}
}

func BenchmarkShrink26Mpx(b *testing.B) {
	px := make([]float32, benchPixels)
	for b.Loop() {
		Shrink(px, 6248, 4176, 600, false)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchPixels, "ns/px")
}

func BenchmarkGzip(b *testing.B) {
	f := benchFile(b)
	plain, err := os.ReadFile(f.Path)
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	writeIn(b, dir, "frame.fits.gz", zipped(plain))
	z := scanDir(b, dir)[0]
	var im Image
	b.SetBytes(2 * benchPixels)
	for b.Loop() {
		if err := z.Read(&im); err != nil {
			b.Fatal(err)
		}
	}
}
