package frames

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/fact"
)

// The tests write FITS files byte by byte, by the standard and not through the
// package under test: 80-byte cards, 36 to a block, big-endian data.

// cards makes a header of whole blocks; every line is one card, END is added.
func cards(lines ...string) []byte {
	var b bytes.Buffer
	for _, l := range append(lines, "END") {
		if len(l) > 80 {
			panic("card too long: " + l)
		}
		b.WriteString(l)
		b.WriteString(strings.Repeat(" ", 80-len(l)))
	}
	return pad(b.Bytes(), ' ')
}

// pad fills the last block.
func pad(b []byte, with byte) []byte {
	for len(b)%2880 != 0 {
		b = append(b, with)
	}
	return b
}

// card is a keyword with a number or logical.
func keyed(key string, value any) string { return fmt.Sprintf("%-8s= %20v", key, value) }

// image is the structural cards of an image, then any others.
func imageCards(bitpix int, axes []int, more ...string) []string {
	lines := []string{keyed("SIMPLE", "T"), keyed("BITPIX", bitpix), keyed("NAXIS", len(axes))}
	for i, n := range axes {
		lines = append(lines, keyed(fmt.Sprintf("NAXIS%d", i+1), n))
	}
	return append(lines, more...)
}

// bigEndian is the data unit of samples, padded with zeros.
func bigEndian(samples any) []byte {
	var b bytes.Buffer
	if err := binary.Write(&b, binary.BigEndian, samples); err != nil {
		panic(err)
	}
	return pad(b.Bytes(), 0)
}

// fits is a whole file of one image.
func fits(bitpix int, axes []int, samples any, more ...string) []byte {
	return append(cards(imageCards(bitpix, axes, more...)...), bigEndian(samples)...)
}

func zipped(b []byte) []byte {
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	w.Write(b)
	w.Close()
	return z.Bytes()
}

// write puts a file into a fresh folder and returns the folder.
func write(t testing.TB, name string, content []byte) string {
	t.Helper()
	dir := t.TempDir()
	writeIn(t, dir, name, content)
	return dir
}

func writeIn(t testing.TB, dir, name string, content []byte) string {
	t.Helper()
	p := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p, content, 0o666); err != nil {
		t.Fatal(err)
	}
	return p
}

func scanDir(t testing.TB, roots ...string) []*Frame {
	t.Helper()
	fs, err := Scan(context.Background(), roots, DefaultScanOptions)
	if err != nil {
		t.Fatal(err)
	}
	return fs
}

// scanFile scans the only file of a folder of its own.
func scanBytes(t testing.TB, name string, content []byte) *Frame {
	t.Helper()
	fs := scanDir(t, write(t, name, content))
	if len(fs) != 1 {
		t.Fatalf("%d frames, want 1", len(fs))
	}
	return fs[0]
}

// readBytes scans and reads one file.
func readBytes(t testing.TB, content []byte) *Image {
	t.Helper()
	f := scanBytes(t, "frame.fits", content)
	if f.Err != nil {
		t.Fatal(f.Err)
	}
	var im Image
	if err := f.Read(&im); err != nil {
		t.Fatal(err)
	}
	return &im
}

// warned tells whether a file was warned of.
func warned(f *Frame, code fact.Code) bool { return fact.Has(f.Findings, code) }
