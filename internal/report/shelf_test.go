package report

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/night"
	"fitsqa/internal/outdir"
)

// writerBeside writes reports into dir as if their page had room for no picture.
func writerBeside(dir string) *writer {
	w := &writer{dir: dir, shelf: &shelf{dir: dir, room: pictureBudget, used: map[string]bool{}}}
	w.shelf.room = 0
	return w
}

func writeBeside(ctx context.Context, dir string, r *night.Result) error {
	return writerBeside(dir).all(ctx, r)
}

// Pictures that are too many for the page stand beside it, each where the page
// says; those of an earlier page go, and what is not ours stays.
func TestPicturesBesideThePage(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, outdir.PicturesDir)
	if err := os.MkdirAll(folder, 0o777); err != nil {
		t.Fatal(err)
	}
	old := outdir.PictureName([]byte("of last night"))
	for _, name := range []string{old, "mine.jpg"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("of last night"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 { // the second run finds its pictures there
		if err := writeBeside(t.Context(), dir, fakeNight(4)); err != nil {
			t.Fatal(err)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	named := map[string]bool{"mine.jpg": true}
	for _, m := range regexp.MustCompile(outdir.PicturesDir+`/([0-9a-f]{24}\.jpg)`).FindAllSubmatch(page, -1) {
		named[string(m[1])] = true
	}
	there := map[string]bool{}
	for _, name := range filesIn(t, folder) {
		there[name] = true
	}
	if diff := cmp.Diff(named, there); diff != "" || len(named) < 10 {
		t.Errorf("%d pictures (-named by the page +in the folder):\n%s", len(named), diff)
	}
	for name := range there {
		if jpg, err := os.ReadFile(filepath.Join(folder, name)); err != nil || name != "mine.jpg" && outdir.PictureName(jpg) != name {
			t.Errorf("%s is not what its name says, %v", name, err)
		}
	}
}

// A page that has room for its pictures is one file again.
func TestPicturesComeBackIntoThePage(t *testing.T) {
	dir := t.TempDir()
	if err := writeBeside(t.Context(), dir, fakeNight(1)); err != nil {
		t.Fatal(err)
	}
	if err := WriteAll(t.Context(), dir, fakeNight(1)); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, outdir.PicturesDir)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the pictures' folder is still there: %v", err)
	}
	page, err := os.ReadFile(filepath.Join(dir, "report.html"))
	if err != nil || strings.Contains(string(page), outdir.PicturesDir+"/") || strings.Contains(string(page), "'self'") {
		t.Errorf("the page looks beside itself, or %v", err)
	}
}

// lateCancel is cancelled once the pictures are in their folder.
type lateCancel struct {
	context.Context
	shelf *shelf
}

func (c lateCancel) Err() error {
	if len(c.shelf.made) > 0 {
		return context.Canceled
	}
	return nil
}

// A run that fails takes back its pictures and leaves those of the page before.
func TestFailedRunTakesItsPicturesBack(t *testing.T) {
	dir := t.TempDir()
	if err := writeBeside(t.Context(), dir, fakeNight(1)); err != nil {
		t.Fatal(err)
	}
	before := filesIn(t, filepath.Join(dir, outdir.PicturesDir))
	w := writerBeside(dir)
	if err := w.all(lateCancel{t.Context(), w.shelf}, fakeNight(4)); !errors.Is(err, context.Canceled) || len(w.shelf.made) == 0 {
		t.Fatalf("%v, %d new pictures", err, len(w.shelf.made))
	}
	w.takeBack()
	if diff := cmp.Diff(before, filesIn(t, filepath.Join(dir, outdir.PicturesDir))); diff != "" {
		t.Error(diff)
	}
}
