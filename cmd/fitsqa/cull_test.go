package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/cull"
	"fitsqa/internal/frames"
	"fitsqa/internal/subs"
)

// cullNight writes frames with verdicts and the night.json that names them.
func cullNight(t *testing.T, verdicts map[string]string) (outdir, lights string) {
	t.Helper()
	root := t.TempDir()
	outdir, lights = filepath.Join(root, "out"), filepath.Join(root, "night", "lights")
	for _, dir := range []string{outdir, lights} {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	type sub map[string]any
	subs := []sub{}
	for name, verdict := range verdicts {
		path := filepath.Join(lights, name)
		if err := os.WriteFile(path, []byte(name), 0o666); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		subs = append(subs, sub{"path": path, "size_bytes": info.Size(), "modified_utc": info.ModTime().UTC().Format(time.RFC3339Nano), "verdict": verdict, "sentence": "no stars"})
	}
	text, err := json.Marshal(map[string]any{"schema_version": 1, "subs": subs})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(outdir, "night.json"), text, 0o666); err != nil {
		t.Fatal(err)
	}
	return outdir, lights
}

// fitsqaRun runs the program in this process.
func fitsqaRun(args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = run(context.Background(), &out, &err, args)
	return code, out.String(), err.String()
}

func there(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

func TestCullPlanApplyUndo(t *testing.T) {
	out, lights := cullNight(t, map[string]string{"a b.fits": "cull", "good.fits": "keep", "so so.fits": "doubtful"})
	at, aside := filepath.Join(lights, "a b.fits"), filepath.Join(lights, cull.Folder, "a b.fits")

	code, stdout, _ := fitsqaRun("cull", out)
	if code != exitDone || !strings.Contains(stdout, at+": cull (no stars)\n1 file would be moved into folders \"culled\" beside them; nothing was moved.\nKeep a copy of the night") || !there(at) {
		t.Errorf("plan: %d\n%s", code, stdout)
	}
	if code, stdout, _ := fitsqaRun("cull", "--apply", out); code != exitDone || there(at) || !there(aside) || !strings.Contains(stdout, "1 file moved into") {
		t.Errorf("apply: %d\n%s", code, stdout)
	}
	if code, stdout, _ := fitsqaRun("cull", "--apply", "--take", "doubtful", out); code != exitDone || stdout != "1 file moved into folders \"culled\" beside them; 1 is there already.\nTo bring them back: fitsqa cull --undo "+out+"\n" || there(filepath.Join(lights, "so so.fits")) {
		t.Errorf("apply more: %d\n%s", code, stdout)
	}
	if code, stdout, _ := fitsqaRun("cull", "--undo", out); code != exitDone || !there(at) || !there(filepath.Join(lights, "so so.fits")) || stdout != "2 files moved back.\n" {
		t.Errorf("undo: %d\n%s", code, stdout)
	}
	if code, _, stderr := fitsqaRun("cull", "--undo", out); code != exitNothing || !strings.Contains(stderr, "nothing was moved from here") {
		t.Errorf("undo again: %d\n%s", code, stderr)
	}
}

func TestCullList(t *testing.T) {
	out, lights := cullNight(t, map[string]string{"a b.fits": "cull", "two\nlines.fits": "cull", "so.fits": "doubtful"})
	code, stdout, stderr := fitsqaRun("cull", "--list", out)
	if code != exitUnreadable || stdout != filepath.Join(lights, "a b.fits")+"\n" || !strings.Contains(stderr, `two\nlines.fits": has a line break`) {
		t.Errorf("list: %d %q %q", code, stdout, stderr)
	}
	code, stdout, _ = fitsqaRun("cull", "--list", "--null", "--take", "doubtful", out)
	if paths := strings.Split(strings.TrimSuffix(stdout, "\x00"), "\x00"); code != exitDone || len(paths) != 3 || !slices.Contains(paths, filepath.Join(lights, "two\nlines.fits")) {
		t.Errorf("null list: %d %q", code, stdout)
	}
}

func TestCullRefuses(t *testing.T) {
	out, lights := cullNight(t, map[string]string{"a.fits": "cull", "b.fits": "cull"})
	if err := os.WriteFile(filepath.Join(lights, "a.fits"), []byte("calibrated since"), 0o666); err != nil {
		t.Fatal(err)
	}
	if code, stdout, _ := fitsqaRun("cull", "--apply", out); code != exitUnreadable || !strings.Contains(stdout, "a.fits: stayed: changed since the analysis") || !there(filepath.Join(lights, "a.fits")) || there(filepath.Join(lights, "b.fits")) {
		t.Errorf("%d\n%s", code, stdout)
	}
	mistyped := filepath.Join(t.TempDir(), "decisions.txt")
	if err := os.WriteFile(mistyped, []byte("keeep a.fits\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		code int
		args []string
	}{
		{exitUsage, []string{"cull"}},
		{exitUsage, []string{"cull", "--decisions", mistyped, out}},
		{exitUsage, []string{"cull", out, out}},
		{exitUsage, []string{"cull", "--apply", "--undo", out}},
		{exitUsage, []string{"cull", "--null", out}},
		{exitUsage, []string{"cull", "--take", "keep", out}},
		{exitNothing, []string{"cull", lights}},
		{exitDone, []string{"cull", "--help"}},
	} {
		if code, _, stderr := fitsqaRun(c.args...); code != c.code {
			t.Errorf("%q: exit code %d, want %d\n%s", c.args, code, c.code, stderr)
		}
	}
}

// A scan leaves out what cull moved aside.
func TestScanLeavesOutCulled(t *testing.T) {
	if !slices.Contains(frames.DefaultScanOptions.SkipName, cull.Folder) {
		t.Errorf("a scan would enter folders named %q", cull.Folder)
	}
}

func TestLimitSetsAndSingleLimits(t *testing.T) {
	dir := t.TempDir()
	config := filepath.Join(dir, "night.toml")
	if err := os.WriteFile(config, []byte("[limits]\nfwhm_doubtful = 1.2\nsky_cull = 40\n[[limits.override]]\nfilter = 'Ha'\nsky_cull = 50\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	decisions := filepath.Join(dir, "mine.txt")
	if err := os.WriteFile(decisions, []byte("keep a b.fits\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	s, err := checkSettings(t, "--limits", "lenient", "--config", config, "--set", "limits.sky_cull = 45", "--decisions", decisions, "x")
	if err != nil {
		t.Fatal(err)
	}
	if l := s.Limits; l.FWHMCull != 2 || l.FWHMDoubtful != 1.2 || l.SkyCull != 45 || l.For("", "ha").SkyCull != 50 {
		t.Errorf("limits %+v: the set comes first, then the file, then the flag", l)
	}
	if len(s.Decisions) != 1 || s.Decisions[0] != (subs.Decision{Verdict: subs.Keep, Name: "a b.fits"}) {
		t.Errorf("decisions %v", s.Decisions)
	}
	for _, args := range [][]string{{"--limits", "soft", "x"}, {"--decisions", config, "x"}, {"--decisions", dir + "/none", "x"},
		{"--set", "limits.sky_cull = -1", "x"}, {"--set", "limits.sky = 1", "x"}} {
		if _, err := checkSettings(t, args...); err == nil {
			t.Errorf("%q was accepted", args)
		}
	}
}

// What is shown can be moved by the command that is shown, and nothing else: a selection and
// blanks in a name stay in it.
func TestShownCommandMovesWhatIsShown(t *testing.T) {
	o := cullOptions{take: "doubtful", causes: []string{"bright sky", "cloud"}, filters: []string{"Ha"}}
	if got, want := o.again("my night"), `fitsqa cull --apply --take doubtful --cause 'bright sky,cloud' --filter Ha 'my night'`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := (&cullOptions{take: "cull"}).again("out"), "fitsqa cull --apply out"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
