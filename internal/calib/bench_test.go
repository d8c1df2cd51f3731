package calib

import (
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
)

// writeBias writes a FITS file of 16-bit bias noise, or of any constant level.
func writeBias(b testing.TB, path string, w, h int, noise []uint16, shift int) {
	b.Helper()
	var head strings.Builder
	for _, c := range []string{"SIMPLE  =                    T", "BITPIX  =                   16", "NAXIS   =                    2",
		fmt.Sprintf("NAXIS1  = %20d", w), fmt.Sprintf("NAXIS2  = %20d", h), "BZERO   =                32768", "BSCALE  =                    1",
		"IMAGETYP= 'Bias    '", "EXPTIME =                  0.0", "CCD-TEMP=                -10.0", "GAIN    =                  100", "INSTRUME= 'Invented Mono 1'", "END"} {
		head.WriteString(fmt.Sprintf("%-80s", c))
	}
	text := head.String()
	text += strings.Repeat(" ", 2880-len(text)%2880)
	size := 2 * w * h
	buf := make([]byte, len(text)+(size+2879)/2880*2880)
	copy(buf, text)
	for i := range w * h {
		binary.BigEndian.PutUint16(buf[len(text)+2*i:], noise[(i+shift)%len(noise)]^0x8000)
	}
	if err := os.WriteFile(path, buf, 0o644); err != nil {
		b.Fatal(err)
	}
}

// cpuTime is the processor time that the program has used.
func cpuTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkBiasStack compares measuring a stack of bias frames, every figure
// on, with reading and decoding the same samples into reused buffers.
func BenchmarkBiasStack(b *testing.B) {
	for _, size := range []struct {
		name    string
		w, h, n int
	}{{"2MP x 20", 1672, 1256, 20}, {"26MP x 20", 6248, 4176, 20}} {
		b.Run(size.name, func(b *testing.B) {
			if testing.Short() && size.w > 2000 {
				b.Skip("writes a gigabyte")
			}
			dir := b.TempDir()
			rng := rand.New(rand.NewPCG(1, 1))
			noise := make([]uint16, size.w*size.h+9973)
			for i := range noise {
				noise[i] = uint16(1000 + 7*rng.NormFloat64())
			}
			for i := range size.n {
				writeBias(b, filepath.Join(dir, fmt.Sprintf("bias_%02d.fits", i)), size.w, size.h, noise, i*449)
			}
			fs, err := frames.Scan(context.Background(), []string{dir}, frames.DefaultScanOptions)
			if err != nil || len(fs) != size.n {
				b.Fatal(len(fs), err)
			}
			images := make([]frames.Image, 2)
			decode := func() {
				parallel.Ranges(len(fs), 2, func(w, from, to int) {
					for _, f := range fs[from:to] {
						if err := f.Read(&images[w]); err != nil {
							b.Error(err)
						}
					}
				})
			}
			decode()
			samples := float64(size.w * size.h * size.n)
			var reading, measuring, cpuReading, cpuMeasuring time.Duration
			b.ResetTimer()
			for range b.N {
				start, cpu := time.Now(), cpuTime(b)
				decode()
				reading += time.Since(start)
				cpuReading += cpuTime(b) - cpu
				start, cpu = time.Now(), cpuTime(b)
				r, err := Analyse(context.Background(), frames.Sort(fs), DefaultOptions)
				measuring += time.Since(start)
				cpuMeasuring += cpuTime(b) - cpu
				if err != nil || len(r.Sets) < 1 || !r.Sets[0].Figure("read_noise_adu").Value.OK() {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(reading.Nanoseconds())/float64(b.N)/samples, "ns/sample-decode")
			b.ReportMetric(float64(measuring.Nanoseconds())/float64(b.N)/samples, "ns/sample-all")
			b.ReportMetric(float64(measuring)/float64(reading), "times-decoding")
			b.ReportMetric(float64(cpuMeasuring)/float64(cpuReading), "cpu-times-decoding") // steadier on a busy machine
		})
	}
}
