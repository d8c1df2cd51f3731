package main

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"fitsqa/internal/demo"
)

// shared is what a process writes, read while it does.
type shared struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *shared) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// await waits for a text.
func (s *shared) await(t *testing.T, text string) {
	t.Helper()
	for until := time.Now().Add(time.Minute); !strings.Contains(s.String(), text); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("no %q in\n%s", text, s)
		}
	}
}

// A watched folder ends with the reports of check whatever signal ends it; a
// trailed sub is printed, written and given to a command as one argument list and
// an environment; nothing is written among the frames, and no name steers the
// terminal.
func TestWatch(t *testing.T) {
	t.Parallel()
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Stars, sc.Bias, sc.Darks, sc.FlatLevels, sc.Streaks = 320, 240, 300, 2, nil, nil, nil
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 4}}
	sc.Trails = []demo.Trail{{Span: demo.Span{First: 2, Last: 2}, Length: 9, Angle: 30}}
	night := filepath.Join(t.TempDir(), "night")
	truth, err := demo.Write(t.Context(), night, sc, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		if testing.Short() && signal != os.Interrupt {
			break
		}
		live, out, told := filepath.Join(t.TempDir(), "live"), filepath.Join(t.TempDir(), "out"), filepath.Join(t.TempDir(), "told")
		if err := os.Mkdir(live, 0o755); err != nil {
			t.Fatal(err)
		}
		script := filepath.Join(t.TempDir(), "hook")
		if err := os.WriteFile(script, []byte("#!/bin/sh\necho \"$#,$1,$FITSQA_ALERT,$FITSQA_FILTER,$FITSQA_TIME,$FITSQA_FILE\" >> '"+told+"'\n"), 0o755); err != nil {
			t.Fatal(err)
		}
		c := program(t, "watch", "--out", out, "--on-alert", script+" 'two words'", live)
		var stdout, stderr shared
		c.Stdout, c.Stderr = &stdout, &stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		stdout.await(t, "Watching")
		for i, sub := range truth.Subs {
			content, err := os.ReadFile(filepath.Join(night, filepath.FromSlash(sub.File)))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(live, []string{"a.fits", "\x1b[31mb\n.fits", "c.fits", "d.fits"}[i]), content, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		stdout.await(t, " L 004: ")
		if err := c.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		_ = c.Wait() // the state tells
		if code := c.ProcessState.ExitCode(); code != exitDone {
			t.Errorf("%v: exit code %d\n%s%s", signal, code, &stdout, &stderr)
		}
		wantPlain(t, "watch", strings.ReplaceAll(stdout.String()+stderr.String(), "\u00a0", " "))
		alerts, _ := os.ReadFile(filepath.Join(out, alertsName))
		again := filepath.Join(t.TempDir(), "again")
		if code, _, stderr := finish(t, program(t, "check", "--no-cache", "--no-ledger", "--out", again, live)); code != exitDone {
			t.Fatal(code, stderr)
		}
		if a, b := verdicts(t, out), verdicts(t, again); len(a) != 4 || !reflect.DeepEqual(a, b) {
			t.Errorf("verdicts %v, of check %v", a, b)
		}
		if want := " trailing: trailed stars: "; strings.Count(string(alerts), "\n") != 1 || !strings.Contains(string(alerts), want) || !strings.Contains(stdout.String(), "ALERT"+want) {
			t.Errorf("alerts %q\n%s", alerts, &stdout)
		}
		got, _ := os.ReadFile(told)
		if want := "1,two words,trailing,L," + truth.Subs[2].Start.UTC().Format("2006-01-02T15:04:05Z") + "," + filepath.Join(live, "c.fits") + "\n"; string(got) != want {
			t.Errorf("the command was told %q, want %q", got, want)
		}
		if len(contents(t, live)) != 4 {
			t.Errorf("%d files among the frames", len(contents(t, live)))
		}
	}
}

func TestWatchUsage(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{
		{}, {dir, dir}, {"--on-alert", "a 'b", dir}, {"--on-alert", "a; b", dir}, {"--shell", dir},
		{"--out", filepath.Join(dir, "out"), dir}, {filepath.Join(dir, "none")},
	} {
		if code, stdout, stderr := call(t, append([]string{"watch", "--no-ledger"}, args...)...); code != exitUsage || stdout != "" {
			t.Errorf("%q: exit code %d, %s%s", args, code, stdout, stderr)
		}
	}
}
