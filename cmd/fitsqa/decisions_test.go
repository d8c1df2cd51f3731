package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/decisions"
	"fitsqa/internal/demo"
	"fitsqa/internal/subs"
)

// Decisions kept in the output folder, and those of a file, overrule what the
// figures say; they follow a file that got another name.
func TestCullByDecisions(t *testing.T) {
	out, lights := cullNight(t, map[string]string{"a.fits": "cull", "b.fits": "keep", "c.fits": "keep"})
	at := func(name string) string { return filepath.Join(lights, name) }
	if err := decisions.Save(out, []subs.Decision{
		{Verdict: subs.Keep, Name: "another name.fits", Content: decisions.Content(at("a.fits"))},
		{Verdict: subs.Cull, Name: "b.fits", Content: decisions.Content(at("b.fits"))},
	}); err != nil {
		t.Fatal(err)
	}
	code, stdout, stderr := fitsqaRun("cull", "--list", out)
	if code != exitDone || stdout != at("b.fits")+"\n" || stderr != "" {
		t.Errorf("kept decisions: %d %q %q", code, stdout, stderr)
	}
	mine := filepath.Join(t.TempDir(), "mine.txt")
	if err := os.WriteFile(mine, []byte("keep b.fits\ncull c.fits\ncull none.fits\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	code, stdout, stderr = fitsqaRun("cull", "--take", "own", "--decisions", mine, out)
	if code != exitDone || !strings.Contains(stdout, at("c.fits")+": cull (your decision; measured: no stars)\n1 file would") || !strings.Contains(stderr, "not there: none.fits") {
		t.Errorf("and a file: %d %q %q", code, stdout, stderr)
	}
	if code, _, stderr := fitsqaRun("cull", "--decisions", at("none"), out); code == exitDone || !strings.Contains(stderr, "decisions") {
		t.Errorf("no such file: %d %q", code, stderr)
	}
}

// A decision given to check is kept beside the reports, and holds for the next
// check into the same folder without being given again, also when the file was
// renamed.
func TestCheckKeepsDecisions(t *testing.T) {
	if testing.Short() {
		t.Skip("measures a night twice")
	}
	dir := t.TempDir()
	night, out := filepath.Join(dir, "night"), filepath.Join(dir, "out")
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Bias, sc.Darks, sc.FlatLevels = 480, 360, 3, nil, nil
	sc.Blocks, sc.Streaks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 4}}, nil
	if _, err := demo.Write(t.Context(), night, sc, nil); err != nil {
		t.Fatal(err)
	}
	lights, _ := filepath.Glob(filepath.Join(night, "lights", "*", "*.fits"))
	if len(lights) != 4 {
		t.Fatalf("%d subs", len(lights))
	}
	mine := filepath.Join(dir, "mine.txt")
	if err := os.WriteFile(mine, []byte("cull "+filepath.Base(lights[1])+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := fitsqaRun("check", "--no-ledger", "--out", out, "--decisions", mine, night); code != exitDone {
		t.Fatal(stderr)
	}
	renamed := filepath.Join(filepath.Dir(lights[1]), "zz_renamed.fits")
	if err := os.Rename(lights[1], renamed); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := fitsqaRun("check", "--no-ledger", "--out", out, night); code != exitDone {
		t.Fatal(stderr)
	}
	if code, stdout, _ := fitsqaRun("cull", "--list", "--take", "own", out); code != exitDone || stdout != renamed+"\n" {
		t.Errorf("after the second check: %d %q", code, stdout)
	}
}
