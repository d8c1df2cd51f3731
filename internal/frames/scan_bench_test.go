package frames

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkScan5000Small lists, classifies and groups a folder of small bias frames.
func BenchmarkScan5000Small(b *testing.B) {
	const files, side = 5000, 64
	dir := b.TempDir()
	var header bytes.Buffer
	for _, card := range []string{"SIMPLE  =                    T", "BITPIX  =                   16", "NAXIS   =                    2",
		"NAXIS1  =                   64", "NAXIS2  =                   64", "BZERO   =                32768",
		"IMAGETYP= 'Bias Frame'", "EXPTIME =                  0.0", "END"} {
		fmt.Fprintf(&header, "%-80s", card)
	}
	data := append(header.Bytes(), bytes.Repeat([]byte{' '}, 2880-header.Len())...)
	data = append(data, make([]byte, (2*side*side+2879)/2880*2880)...)
	for i := range files {
		data[2880+i%2880] ^= byte(i) // no two alike
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("bias_%04d.fits", i)), data, 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		found, err := Scan(b.Context(), []string{dir}, DefaultScanOptions)
		if err != nil || len(found) != files || found[0].Kind != Bias {
			b.Fatal(len(found), err)
		}
		Groups(found)
	}
	b.ReportMetric(files*float64(b.N)/b.Elapsed().Seconds(), "files/s")
}
