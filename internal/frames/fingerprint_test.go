package frames

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// A fingerprint follows the pixels: through another name and more cards, not
// through one changed sample of a piece that is read; every real file here has
// its own.
func TestFingerprint(t *testing.T) {
	dir := t.TempDir()
	text, err := os.ReadFile("../../testdata/fits/formats/m13.fits")
	if err != nil {
		t.Fatal(err)
	}
	put := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		f, err := Fingerprint(path)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	want := put("a.fits", text)
	if len(want) != 32 {
		t.Errorf("fingerprint %q", want)
	}
	end := bytes.Index(text, []byte("END   "))
	more := bytes.Clone(text)
	copy(more[end:], "COMMENT added by another program")
	copy(more[end+80:], "END     ")
	if got := put("b.fits", more); got != want {
		t.Error("a card more changes the fingerprint")
	}
	other := bytes.Clone(text)
	other[len(other)/2880*2880-2880*20] ^= 1
	if got := put("c.fits", other); got == want {
		t.Error("another sample leaves the fingerprint")
	}
	seen := map[string]string{}
	files, _ := filepath.Glob("../../testdata/fits/*/*.fit*")
	for _, path := range files {
		f, err := Fingerprint(path)
		if err != nil {
			t.Errorf("%s: %v", path, err)
		}
		if seen[f] != "" {
			t.Errorf("%s and %s have one fingerprint", path, seen[f])
		}
		seen[f] = path
	}
	if len(files) < 30 {
		t.Errorf("only %d files", len(files))
	}
	for _, path := range []string{filepath.Join(dir, "none.fits"), dir} {
		if _, err := Fingerprint(path); err == nil {
			t.Errorf("%s has a fingerprint", path)
		}
	}
}
