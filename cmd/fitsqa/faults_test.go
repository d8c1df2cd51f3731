package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"fitsqa/internal/demo"
)

// asProgram makes the test binary be the program.
const asProgram = "FITSQA_TEST_AS_PROGRAM"

// program is a run of the program in a process of its own, with a ledger and a
// cache that no other test sees.
func program(t *testing.T, args ...string) *exec.Cmd {
	c := exec.Command(os.Args[0], args...)
	data := t.TempDir()
	c.Env = append(os.Environ(), asProgram+"=1", "XDG_DATA_HOME="+data, "XDG_CACHE_HOME="+data)
	return c
}

// finish runs c to its end and gives its exit code, or -1 when a signal ended it.
func finish(t *testing.T, c *exec.Cmd) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); c.ProcessState == nil {
		t.Fatal(err)
	}
	return c.ProcessState.ExitCode(), out.String(), errs.String()
}

// drawn is the folder of a night that takes half a second to measure, written once;
// TestMain removes what is in home.
var drawn = sync.OnceValues(func() (dir string, err error) {
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Stars = 420, 320, 260
	sc.Bias, sc.Blocks, sc.Streaks = 4, []demo.Block{{Filter: "L", Exposure: 60, Subs: 8}}, nil
	dir = filepath.Join(home, "night")
	_, err = demo.Write(context.Background(), dir, sc, nil)
	return dir, err
})

// smallNight is a copy of it that the test may change.
func smallNight(t *testing.T) string {
	t.Helper()
	master, err := drawn()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "night")
	if err := os.CopyFS(dir, os.DirFS(master)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// contents is the hash of every file below a folder, by its path from there.
func contents(t *testing.T, dir string) map[string][32]byte {
	t.Helper()
	all := map[string][32]byte{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := os.ReadFile(path)
		all[strings.TrimPrefix(path, dir)] = sha256.Sum256(content)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func fileNames(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

var reportFiles = []string{"calibration.csv", "checksums.txt", "night.json", "report.html", "report.txt", "subs.csv"} // sorted

// wantWhole fails unless dir holds the five files of a report, each with its end, and nothing else.
func wantWhole(t *testing.T, dir string) {
	t.Helper()
	if got := fileNames(t, dir); !slices.Equal(got, reportFiles) {
		t.Errorf("the output folder holds %q", got)
		return
	}
	read := func(name string) []byte {
		content, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return content
	}
	if !json.Valid(read("night.json")) {
		t.Error("night.json is no JSON")
	}
	if !bytes.HasSuffix(bytes.TrimSpace(read("report.html")), []byte("</html>")) {
		t.Error("report.html has no end")
	}
	for _, name := range []string{"subs.csv", "calibration.csv"} {
		if rows, err := csv.NewReader(bytes.NewReader(read(name))).ReadAll(); err != nil || len(rows) < 9 {
			t.Errorf("%s: %d rows, %v", name, len(rows), err)
		}
	}
}

// mounted gives a folder with a small file system of its own.
func mounted(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size="+size, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("needs leave to mount a small file system: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	return dir
}

func TestDiskFull(t *testing.T) {
	night, disk := smallNight(t), mounted(t, "100k") // report.html alone is larger
	out := filepath.Join(disk, "out")
	code, stdout, stderr := finish(t, program(t, "check", "--out", out, night))
	if !strings.Contains(stdout, "What the night holds") {
		t.Errorf("the answer was not told: %q", stdout)
	}
	if code != exitOutput || !strings.Contains(stderr, "no space left on device") || !strings.Contains(stderr, "report.html") && !strings.Contains(stderr, "night.json") {
		t.Errorf("exit code %d, %q", code, stderr)
	}
	if got := fileNames(t, out); len(got) > 0 {
		t.Errorf("left behind: %q", got)
	}
}

func TestFolderCannotBeWritten(t *testing.T) {
	night := smallNight(t)
	file := filepath.Join(t.TempDir(), "report")
	if err := os.WriteFile(file, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, out := range []string{file, filepath.Join(file, "below")} {
		code, stdout, stderr := finish(t, program(t, "check", "--out", out, night))
		if code != exitOutput || !strings.Contains(stderr, file) || stdout != "" {
			t.Errorf("--out %s: exit code %d, %q", out, code, stderr)
		}
	}
	if content, err := os.ReadFile(file); string(content) != "mine" {
		t.Errorf("the file in the place of the folder holds %q, %v", content, err)
	}
	t.Run("read-only file system", func(t *testing.T) {
		disk := mounted(t, "100k")
		if out, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
			t.Skipf("cannot be made read-only: %v: %s", err, out)
		}
		for _, out := range []string{disk, filepath.Join(disk, "new")} {
			code, _, stderr := finish(t, program(t, "check", "--out", out, night))
			if code != exitOutput || !strings.Contains(stderr, "read-only file system") {
				t.Errorf("--out %s: exit code %d, %q", out, code, stderr)
			}
		}
	})
}

// Two runs with other settings write the same folder at once: each file ends as
// one run alone would have written it. subs.csv, in which no time of the run
// stands, shows it byte by byte.
func TestTwoRunsAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("four runs; package outdir lets one wait for the other")
	}
	night, dir := smallNight(t), t.TempDir()
	check := func(out, sigma string) {
		if code, _, stderr := finish(t, program(t, "check", "--no-cache", "--out", out, "--set", "stars.threshold="+sigma, night)); code != exitDone {
			t.Errorf("exit code %d, %s", code, stderr)
		}
	}
	subsCSV := func(out string) string {
		content, err := os.ReadFile(filepath.Join(out, "subs.csv"))
		if err != nil {
			t.Fatal(err)
		}
		return string(content)
	}
	low, high, both := filepath.Join(dir, "5"), filepath.Join(dir, "12"), filepath.Join(dir, "both")
	check(low, "5")
	check(high, "12")
	if subsCSV(low) == subsCSV(high) {
		t.Fatal("the two runs cannot be told apart")
	}
	var wg sync.WaitGroup
	wg.Go(func() { check(both, "5") })
	wg.Go(func() { check(both, "12") })
	wg.Wait()
	wantWhole(t, both)
	if got := subsCSV(both); got != subsCSV(low) && got != subsCSV(high) {
		t.Error("subs.csv is of neither run")
	}
}

// Signals spread over the run, the writing of the reports included: ten, and one of each
// kind in short runs.
func TestSignals(t *testing.T) {
	night := smallNight(t)
	before := contents(t, night)
	began := time.Now()
	if code, _, stderr := finish(t, program(t, "check", "--no-cache", "--out", filepath.Join(t.TempDir(), "out"), night)); code != exitDone {
		t.Fatalf("exit code %d, %s", code, stderr)
	}
	whole := time.Since(began)
	signals, stopped := 10, 5
	if testing.Short() {
		signals, stopped = 3, 1
	}
	var waits []time.Duration
	for i := range signals {
		out := filepath.Join(t.TempDir(), "out")
		c := program(t, "check", "--no-cache", "--out", out, night)
		var stderr bytes.Buffer
		c.Stderr = &stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		at := whole * time.Duration(2*i+1) / time.Duration(2*signals)
		time.Sleep(at)
		sent := time.Now()
		if err := c.Process.Signal([]os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}[i%3]); err != nil {
			t.Fatal(err)
		}
		_ = c.Wait() // the state tells
		switch code := c.ProcessState.ExitCode(); code {
		case exitInterrupted:
			waits = append(waits, time.Since(sent))
			if !strings.Contains(stderr.String(), "interrupted") {
				t.Errorf("signal %d: stderr %q", i, stderr.String())
			}
		case -1: // before the program listened, or when it had done all but end
			if entries, _ := os.ReadDir(out); len(entries) > 0 {
				wantWhole(t, out)
				continue
			}
		case exitDone: // other work on the machine had made the run that was timed slower
			whole = min(whole, at)
			wantWhole(t, out)
			continue
		default:
			t.Errorf("signal %d: exit code %d, %s", i, code, stderr.String())
		}
		if strings.Contains(stderr.String(), "reports are complete") {
			wantWhole(t, out)
		} else if entries, _ := os.ReadDir(out); len(entries) > 0 {
			t.Errorf("signal %d left %v", i, entries)
		}
	}
	slices.Sort(waits)
	t.Logf("run %v, stopped after %v", whole, waits)
	if len(waits) < stopped {
		t.Fatalf("only %d of %d runs were interrupted", len(waits), signals)
	}
	// Promised is one second. Other work on the machine may hold up the last few,
	// and all of them where it makes the run itself take far longer than its second.
	promised := max(time.Second, whole/3)
	if waits[(len(waits)-1)/2] > promised || waits[len(waits)-1] > 5*promised {
		t.Errorf("stopped after %v, of a run of %v", waits, whole)
	}
	if after := contents(t, night); len(after) != len(before) {
		t.Errorf("%d source files, were %d", len(after), len(before))
	} else {
		for name, sum := range before {
			if after[name] != sum {
				t.Errorf("%s has changed", name)
			}
		}
	}
}

// Whoever asked not to be hung up on lives on.
func TestNohup(t *testing.T) {
	if testing.Short() {
		t.Skip("one run more; TestSignals sends a hang-up that is not ignored")
	}
	t.Parallel()
	night, out := smallNight(t), filepath.Join(t.TempDir(), "out")
	c := program(t, "check", "--no-cache", "--no-ledger", "--out", out, night)
	nohup, err := exec.LookPath("nohup")
	if err != nil {
		t.Skip("nohup is not here")
	}
	c.Path, c.Args = nohup, append([]string{nohup}, c.Args...)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(150 * time.Millisecond)
	if err := c.Process.Signal(syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); err != nil {
		t.Errorf("hung up on: %v", err)
	}
	wantWhole(t, out)
}

// Neither ledger nor cache goes into a source folder: sources are only read.
func TestSourcesStayClean(t *testing.T) {
	t.Parallel()
	night := smallNight(t)
	before := fileNames(t, night)
	out := filepath.Join(t.TempDir(), "out")
	code, _, stderr := finish(t, program(t, "check", "--ledger", filepath.Join(night, "ledger.db"), "--out", out, night))
	if code != exitUsage || !strings.Contains(stderr, "the ledger") {
		t.Errorf("ledger inside: exit code %d, %q", code, stderr)
	}
	c := program(t, "check", "--no-ledger", "--out", out, night)
	c.Env = append(c.Env, "XDG_CACHE_HOME="+night)
	code, _, stderr = finish(t, c)
	if code != exitDone || !strings.Contains(stderr, "nothing will be remembered") {
		t.Errorf("cache inside: exit code %d, %q", code, stderr)
	}
	if after := fileNames(t, night); !slices.Equal(before, after) {
		t.Errorf("the night holds %q, held %q", after, before)
	}
}

// A run waits for another one that writes into the same folder, and cull does
// not take reports of which only some are of the last run.
func TestMixedReportsAreNotCulled(t *testing.T) {
	if testing.Short() {
		t.Skip("five runs of the program; TestMixedReportsAreNoticed of package report tells what they do")
	}
	t.Parallel()
	night, out := smallNight(t), filepath.Join(t.TempDir(), "out")
	if code, _, stderr := finish(t, program(t, "check", "--no-cache", "--no-ledger", "--out", out, night)); code != exitDone {
		t.Fatal(stderr)
	}
	if code, _, stderr := finish(t, program(t, "cull", out)); code != exitDone {
		t.Errorf("a whole run: exit code %d, %s", code, stderr)
	}
	page := filepath.Join(out, "report.html")
	if err := os.WriteFile(page, []byte("of another run"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"cull", out}, {"cull", "--apply", out}, {"cull", "--list", out}} {
		if code, stdout, stderr := finish(t, program(t, args...)); code != exitNothing || !strings.Contains(stderr, "report.html: not of the run") {
			t.Errorf("%q: exit code %d, %q %q", args, code, stdout, stderr)
		}
	}
}
