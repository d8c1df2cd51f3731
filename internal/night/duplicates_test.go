package night_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fitsqa/internal/demo"
)

// A copy under another name and filter, for which no flat fits, is told as such, and the
// sub that has others of its filter beside it is the one that stays.
func TestCopyUnderAnotherFilter(t *testing.T) {
	t.Parallel()
	sc := demo.Scenario{
		Name: "copies", Seed: 32, Width: 300, Height: 200, Bias: 3, FlatLevels: []float64{0.4},
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: 3}},
		Start:   time.Date(2025, 10, 21, 3, 0, 0, 0, time.UTC),
		Stars:   200, SkyMag: 19.5, Seeing: 3, DitherPx: 4,
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(lightsIn(t, dir)[1])
	if err != nil {
		t.Fatal(err)
	}
	edited := bytes.Replace(content, []byte("FILTER  = 'L "), []byte("FILTER  = 'R "), 1)
	if bytes.Equal(edited, content) {
		t.Fatal("no filter to edit")
	}
	if err := os.WriteFile(filepath.Join(dir, "a copy.fits"), edited, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, s := range check(t, dir).Subs {
		if is := s.Filter.Is("R"); is != (s.DuplicateOf != "") {
			t.Errorf("%s: filter %s, copy of %q", s.File, s.Filter, s.DuplicateOf)
		}
	}
}
