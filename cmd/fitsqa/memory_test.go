package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
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
	code, stdout, stderr, used := finishWatched(t, c)
	if code != exitUnreadable {
		t.Fatalf("exit %d\n%s\n%s", code, stdout, stderr)
	}
	for file, v := range verdicts(t, out) {
		if huge := file == "lights/huge.fits.gz"; huge != (v[0] == "not judged") {
			t.Errorf("%s: %v", file, v)
		}
	}
	// A tenth above is allowed: the collector works towards the limit, it does not stop at it.
	if used < 10 || used > limit*11/10 {
		t.Errorf("%d MiB were used, of %d", used, limit)
	}
}

// finishWatched runs a process to its end and tells the most memory in MiB that
// it held. The system's own account of an ended process begins with what its
// parent held, which is this test.
func finishWatched(t *testing.T, c *exec.Cmd) (code int, stdout, stderr string, peakMiB int) {
	t.Helper()
	if _, err := os.Stat("/proc/self/status"); err != nil {
		t.Skip("the peak of a process cannot be read on this system: ", err)
	}
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	for {
		select {
		case <-ended:
			return c.ProcessState.ExitCode(), out.String(), errs.String(), peakMiB
		case <-time.After(5 * time.Millisecond):
			peakMiB = max(peakMiB, heldMost(c.Process.Pid))
		}
	}
}

// heldMost is the peak of a running process so far, MiB; 0 when it has ended.
func heldMost(pid int) int {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	_, after, ok := strings.Cut(string(status), "VmHWM:")
	var kib int
	if err != nil || !ok {
		return 0
	}
	if _, err := fmt.Sscan(after, &kib); err != nil {
		return 0
	}
	return kib >> 10
}
