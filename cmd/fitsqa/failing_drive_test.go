package main

import (
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// withFault is a run of the program under strace, which makes all reads of some
// files fail as a drive that dropped out does.
func withFault(t *testing.T, files []string, args ...string) *exec.Cmd {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is not here, which makes reads fail")
	}
	fault := []string{"-f", "-qq", "-o", "/dev/null", "-e", "trace=read,pread64", "-e", "inject=read,pread64:error=EIO"}
	for _, f := range files {
		fault = append(fault, "-P", f)
	}
	c := program(t, args...)
	c.Args = append(append([]string{strace}, fault...), c.Args...)
	c.Path = strace
	if probe := exec.Command(strace, "-o", "/dev/null", "true"); probe.Run() != nil {
		t.Skip("this system allows no tracing")
	}
	return c
}

// verdicts are those of subs.csv, by file.
func verdicts(t *testing.T, out string) map[string][2]string {
	t.Helper()
	f, err := os.Open(filepath.Join(out, "subs.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	all := map[string][2]string{}
	for _, row := range rows[1:] {
		all[row[column["file"]]] = [2]string{row[column["verdict"]], row[column["causes"]]}
	}
	return all
}

// A drive that drops out speaks against no sub: none is culled or moved, and
// the exit code tells.
func TestFailingDrive(t *testing.T) {
	if testing.Short() {
		t.Skip("a run under a tracer")
	}
	t.Parallel()
	dir := smallNight(t)
	var lights []string
	for name := range contents(t, dir) {
		if strings.Contains(name, "lights") {
			lights = append(lights, filepath.Join(dir, name))
		}
	}
	before := contents(t, dir)
	out := filepath.Join(t.TempDir(), "out")
	code, stdout, stderr := finish(t, withFault(t, lights, "check", "--no-cache", "--no-ledger", "-o", out, dir))
	if code != exitFailedReads {
		t.Fatalf("exit %d\n%s\n%s", code, stdout, stderr)
	}
	for file, v := range verdicts(t, out) {
		if v != [2]string{"not judged", "unreadable"} {
			t.Errorf("%s: %v", file, v)
		}
	}
	if !strings.Contains(stdout, "Not judged") || strings.Index(stdout, "Not judged") > strings.Index(stdout, "What the night holds") {
		t.Errorf("what was not judged does not stand first:\n%s", stdout)
	}
	if code, stdout, stderr := finish(t, program(t, "cull", "--apply", out)); code != exitDone {
		t.Errorf("cull: exit %d\n%s%s", code, stdout, stderr)
	}
	if after := contents(t, dir); len(after) != len(before) {
		t.Error("files were moved or lost")
	} else {
		for name, sum := range before {
			if after[name] != sum {
				t.Errorf("%s was moved or changed", name)
			}
		}
	}
}

// Valid files that are not read here are no spoiled subs.
func TestUnsupportedIsNotJudged(t *testing.T) {
	t.Parallel()
	dir := smallNight(t)
	for _, name := range []string{"m13_hcomp.fits", "m13_plio.fits"} {
		raw, err := os.ReadFile(filepath.Join("../../testdata/fits/formats", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "lights", name), raw, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(t.TempDir(), "out")
	code, stdout, stderr := finish(t, program(t, "check", "--no-cache", "--no-ledger", "-o", out, dir))
	if code != exitUnreadable {
		t.Fatalf("exit %d\n%s\n%s", code, stdout, stderr)
	}
	for file, v := range verdicts(t, out) {
		if unread := strings.HasPrefix(filepath.Base(file), "m13"); unread != (v[0] == "not judged") {
			t.Errorf("%s: %v", file, v)
		}
	}
}
