package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// One file that unpacks to more than the memory given is a row of the report:
// the night is measured, and the memory is kept.
func TestOneFileDoesNotEndTheNight(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks 288 MB")
	}
	t.Parallel()
	dir := smallNight(t)
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	header := ""
	for _, card := range []string{"SIMPLE  = T", "BITPIX  = 16", "NAXIS   = 2", "NAXIS1  = 12000", "NAXIS2  = 12000", "END"} {
		header += fmt.Sprintf("%-80s", card)
	}
	fmt.Fprintf(z, "%-2880s", header)
	zeros := make([]byte, 2880)
	for range 100_000 {
		z.Write(zeros)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join("lights", "huge.fits.gz")
	if err := os.WriteFile(filepath.Join(dir, name), bomb.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "out")
	const limit = 150 // MiB
	c := program(t, "check", "--no-cache", "--no-ledger", "--memory", fmt.Sprint(limit), "-o", out, dir)
	code, stdout, stderr := finish(t, c)
	if code != exitUnreadable {
		t.Fatalf("exit %d\n%s\n%s", code, stdout, stderr)
	}
	for file, v := range verdicts(t, out) {
		if huge := file == "lights/huge.fits.gz"; huge != (v[0] == "not judged") {
			t.Errorf("%s: %v", file, v)
		}
	}
	// A tenth above is allowed: the collector works towards the limit, it does not stop at it.
	if used := c.ProcessState.SysUsage().(*syscall.Rusage).Maxrss >> 10; used > limit*11/10 {
		t.Errorf("%d MiB were used, of %d", used, limit)
	}
}
