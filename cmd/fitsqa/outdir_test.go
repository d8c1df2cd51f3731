package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/cull"
)

// put writes a file and the folders above it.
func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// Reports go to fitsqa-out here; beside the night when "here" is the night; and
// to a folder of the night's own when fitsqa-out holds another's.
func TestPlaceReports(t *testing.T) {
	dir := t.TempDir()
	nightA, nightB := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	put(t, filepath.Join(nightA, "x.fits"), "")
	put(t, filepath.Join(nightB, "x.fits"), "")

	t.Chdir(nightA)
	p, err := placeReports("", []string{"."})
	if want := filepath.Join(dir, "a-fitsqa"); err != nil || !strings.HasSuffix(p.dir, filepath.Join(filepath.Base(dir), "a-fitsqa")) || p.notice == "" {
		t.Errorf("inside the night: %+v, %v; want %s", p, err, want)
	}

	t.Chdir(dir)
	if p, err := placeReports("", []string{"a"}); err != nil || p != (outPlace{dir: defaultOut}) {
		t.Errorf("beside the night: %+v, %v", p, err)
	}
	put(t, filepath.Join(dir, defaultOut, "night.json"), fmt.Sprintf(`{"roots": [%q]}`, nightA))
	if p, err := placeReports("", []string{"a"}); err != nil || p != (outPlace{dir: defaultOut}) {
		t.Errorf("the same night again: %+v, %v", p, err)
	}
	if p, err := placeReports("", []string{"b"}); err != nil || p.dir != "b-fitsqa" || p.notice == "" {
		t.Errorf("another night: %+v, %v", p, err)
	}
}

// What was asked for is done, with a word where another night's reports go; a
// journal of culled files is never parted from its report.
func TestPlaceAskedFor(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "out")
	put(t, filepath.Join(out, "night.json"), `{"roots": ["/some/other/night"]}`)
	root := filepath.Join(dir, "night")
	put(t, filepath.Join(root, "x.fits"), "")
	if p, err := placeReports(out, []string{root}); err != nil || p.dir != out || !strings.Contains(p.notice, "replaced") {
		t.Errorf("another night's reports: %+v, %v", p, err)
	}
	put(t, filepath.Join(out, cull.JournalName), "fitsqa cull journal 1\nend 0\n")
	if p, err := placeReports(out, []string{root}); err == nil || !strings.Contains(err.Error(), "journal") {
		t.Errorf("another night's journal: %+v, %v", p, err)
	}
	put(t, filepath.Join(out, cull.JournalName), "half a jour")
	if p, err := placeReports(out, []string{root}); err == nil || !strings.Contains(err.Error(), "cannot be read") {
		t.Errorf("a damaged journal: %+v, %v", p, err)
	}
	if _, err := placeReports(filepath.Join(root, "out"), []string{root}); err == nil {
		t.Error("a folder inside the night was taken")
	}
}
