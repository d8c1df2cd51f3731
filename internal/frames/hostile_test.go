package frames

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func byName(fs []*Frame) map[string]*Frame {
	m := map[string]*Frame{}
	for _, f := range fs {
		m[f.Name] = f
	}
	return m
}

// TestLinks: see walk.go for what is followed.
func TestLinks(t *testing.T) {
	dir, outside := t.TempDir(), t.TempDir()
	writeIn(t, dir, "a/real.fits", twoByTwo())
	writeIn(t, outside, "foreign.fits", twoByTwo())
	for link, target := range map[string]string{
		"a/again.fits": "real.fits",
		"a/loop":       "..",
		"a/self.fits":  "self.fits",
		"out":          outside,
		"out.fits":     filepath.Join(outside, "foreign.fits"),
		"gone.fits":    "nowhere.fits",
	} {
		if err := os.Symlink(target, filepath.Join(dir, link)); err != nil {
			t.Fatal(err)
		}
	}
	var names []string
	for _, f := range scanDir(t, dir) {
		names = append(names, fmt.Sprintf("%s %v", f.Name, f.Err == nil))
	}
	want := []string{"a/real.fits true", "a/self.fits false", "gone.fits false", "out false", "out.fits false"}
	if !slices.Equal(names, want) {
		t.Errorf("got %q\nwant %q", names, want)
	}
	// A root that is a link itself is followed: the user named it.
	root := filepath.Join(outside, "root")
	if err := os.Symlink(dir, root); err != nil {
		t.Fatal(err)
	}
	if fs := scanDir(t, root); len(fs) != 5 {
		t.Errorf("%d frames through a linked root, want 5", len(fs))
	}
}

func TestRoots(t *testing.T) {
	dir := t.TempDir()
	writeIn(t, dir, "one/night/a.fits", twoByTwo())
	writeIn(t, dir, "two/night/b.fit", twoByTwo())
	writeIn(t, dir, "two/night/out/c.fit", twoByTwo())
	writeIn(t, dir, "two/night/.trash/d.fit", twoByTwo())
	writeIn(t, dir, "two/night/._b.fit", []byte("companion"))
	writeIn(t, dir, "two/night/notes.txt", []byte("not a frame"))
	opt := DefaultScanOptions
	opt.Skip = []string{filepath.Join(dir, "two/night/out")}
	fs, err := Scan(context.Background(), []string{filepath.Join(dir, "one/night"), filepath.Join(dir, "two/night"), filepath.Join(dir, "two")}, opt)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range fs {
		names = append(names, f.Name)
	}
	if want := []string{"night (2)/b.fit", "night/a.fits"}; !slices.Equal(names, want) {
		t.Errorf("got %q, want %q: overlapping roots once, the output folder and hidden things never", names, want)
	}
	if _, err := Scan(context.Background(), []string{filepath.Join(dir, "nowhere")}, opt); err == nil {
		t.Error("a root that does not exist is no error")
	}
	if _, err := Scan(context.Background(), []string{filepath.Join(dir, "one/night/a.fits")}, opt); err == nil {
		t.Error("a root that is a file is no error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Scan(ctx, []string{dir}, opt); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled scan: %v", err)
	}
}

func TestOddNames(t *testing.T) {
	dir := t.TempDir()
	odd := []string{"a\nb.fits", "\x1b[31mred.fits", "bad\xff\xfe.fits", strings.Repeat("n", 250) + ".fits", "=1+1.fits", "\u202egnp.fits", "UPPER.FITS", "two.Fts", " .fit"}
	for _, n := range odd {
		if err := os.WriteFile(filepath.Join(dir, n), twoByTwo("OBJECT  = 'x'"), 0o666); err != nil {
			t.Skip("the file system takes no such name: ", err)
		}
	}
	fs := scanDir(t, dir)
	if len(fs) != len(odd) {
		t.Errorf("%d frames, want %d", len(fs), len(odd))
	}
	for _, f := range fs {
		if f.Err != nil {
			t.Errorf("%q: %v", f.Name, f.Err)
		}
		if p := Printable(f.Name); strings.ContainsAny(p, "\n\x1b\u202e") || !utf8.ValidString(p) {
			t.Errorf("%q is not safe to print", p)
		}
	}
}

// TestHeaderTextIsPrintable: a header cannot send escapes to a terminal
// through a warning or an error.
func TestHeaderTextIsPrintable(t *testing.T) {
	f := scanBytes(t, "x.fits", twoByTwo("IMAGETYP= '\x1b[2Jflat'", "EXPTIME = '\x1b]0;x\x07'", "CCD-TEMP= '\xe2\x80\xae12'", "RA      = 'a\x1bb'", "TRIMSEC = '\x9b31m'"))
	all := fmt.Sprint(f.Findings) + string(f.Meta.Target) + fmt.Sprint(f.Err)
	for _, r := range all {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r == '\u202e' {
			t.Errorf("%q holds %q", all, r)
		}
	}
	if len(f.Findings) == 0 {
		t.Error("no warnings to check")
	}
}

// TestTruncated: every cut of a file is named with the share that arrived.
func TestTruncated(t *testing.T) {
	whole := fits(16, []int{100, 100}, make([]int16, 10000), "BZERO   = 32768")
	for _, cut := range []int{2880, 2881, 5000, 22879} {
		f := scanBytes(t, "x.fits", whole[:cut])
		var te *TruncatedError
		if !errors.As(f.Err, &te) || te.Have != int64(cut) || te.Want != int64(len(whole)) {
			t.Errorf("cut at %d: %v", cut, f.Err)
		}
	}
	if f := scanBytes(t, "x.fits", whole[:22880]); f.Err != nil || !warned(f, PaddingMissing) {
		t.Errorf("only padding missing: %v, %v", f.Err, f.Findings)
	}
	if f := scanBytes(t, "x.fits", whole[:300]); !malformed.matches(f.Err) {
		t.Errorf("cut inside the header: %v", f.Err)
	}
}

// TestChanging: a file that shrinks, grows, vanishes or is replaced between
// scan and reading.
func TestChanging(t *testing.T) {
	whole := fits(16, []int{100, 100}, slices.Repeat([]int16{1}, 10000), "BZERO   = 32768")
	scan := func() (*Frame, string) {
		dir := write(t, "x.fits", whole)
		return scanDir(t, dir)[0], filepath.Join(dir, "x.fits")
	}
	f, p := scan()
	os.Truncate(p, 12880)
	var te *TruncatedError
	if err := f.Read(new(Image)); !errors.As(err, &te) || te.Have != 12880 {
		t.Errorf("shrunk: %v", err)
	}
	f, p = scan()
	os.WriteFile(p, append(whole, make([]byte, 5000)...), 0o666)
	if err := f.Read(new(Image)); err != nil {
		t.Errorf("grown: %v", err)
	}
	f, p = scan()
	os.Remove(p)
	if err := f.Read(new(Image)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("vanished: %v", err)
	}
	f, p = scan()
	os.WriteFile(p, twoByTwo(), 0o666)
	if err := f.Read(new(Image)); !malformed.matches(err) || !strings.Contains(err.Error(), "changed") {
		t.Errorf("replaced: %v", err)
	}
	// It shrinks while rows are read.
	f, p = scan()
	r, err := f.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var im Image
	if _, err := r.Rows(&im, 10); err != nil {
		t.Fatal(err)
	}
	os.Truncate(p, 5000)
	if _, err := r.Rows(&im, 90); !errors.As(err, &te) || te.Have != 5000 {
		t.Errorf("shrunk while read: %v", err)
	}
}

// TestManyFiles: the scan's time grows with the files and no faster. 100 000
// of them were scanned by hand; here are enough to see a quadratic step.
func TestManyFiles(t *testing.T) {
	dir := t.TempDir()
	content := twoByTwo()
	const n = 1200 // more than the files that may be open at once, 1024 on most systems
	for i := range n {
		p := filepath.Join(dir, fmt.Sprintf("f%05d.fits", i))
		if err := os.WriteFile(p, content, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	done := 0
	opt := DefaultScanOptions
	opt.Progress = func(d, total int) {
		if d > total || total != n {
			t.Errorf("progress %d of %d", d, total)
		}
		done++
	}
	fs, err := Scan(context.Background(), []string{dir}, opt)
	if err != nil || len(fs) != n || done != n {
		t.Fatalf("%d frames, %d steps of progress, %v", len(fs), done, err)
	}
	if got := len(Groups(fs)); got != 1 {
		t.Errorf("%d groups, want 1", got)
	}
}

// TestMemoryCap: a large image is refused by the cap, not by its header's word.
func TestMemoryCap(t *testing.T) {
	dir := write(t, "x.fits", fits(16, []int{100, 100}, make([]int16, 10000)))
	opt := DefaultScanOptions
	opt.MaxBytes = 19999
	fs, err := Scan(context.Background(), []string{dir}, opt)
	if err != nil || !unsupported.matches(fs[0].Err) || !strings.Contains(fs[0].Err.Error(), "memory cap") {
		t.Errorf("%v, %v", fs[0].Err, err)
	}
	opt.MaxBytes = 20000
	fs, err = Scan(context.Background(), []string{dir}, opt)
	if err != nil || fs[0].Err != nil {
		t.Errorf("%v, %v", fs[0].Err, err)
	}
}

// allocated is how many bytes a function takes from the heap in total.
func allocated(do func()) int64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return int64(after.TotalAlloc - before.TotalAlloc)
}
