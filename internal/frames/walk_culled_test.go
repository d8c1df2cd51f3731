package frames

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What was culled is not seen again, unless its folder is named itself.
func TestCulledIsLeftOut(t *testing.T) {
	root := t.TempDir()
	for _, name := range []string{"lights/a.fits", "lights/culled/b.fits", "lights/Culled flats/c.fits"} {
		path := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	scan := func(root string) (names, leftOut []string) {
		opt := DefaultScanOptions
		opt.LeftOut = func(folder string) { leftOut = append(leftOut, folder) }
		fs, err := Scan(context.Background(), []string{root}, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range fs {
			names = append(names, f.Name)
		}
		return names, leftOut
	}
	names, leftOut := scan(root)
	if diff := cmp.Diff([]string{"lights/Culled flats/c.fits", "lights/a.fits"}, names); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"lights/culled"}, leftOut); diff != "" {
		t.Error(diff)
	}
	if names, leftOut := scan(filepath.Join(root, "lights", "culled")); len(names) != 1 || len(leftOut) != 0 {
		t.Errorf("named itself: %q, left out %q", names, leftOut)
	}
}
