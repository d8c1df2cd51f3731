package watch

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/frames"
)

// A folder by an invented clock: when a file is ready, when it comes again, and when
// it is known though it was away.
func TestFolder(t *testing.T) {
	dir := t.TempDir()
	f := newFolder([]string{dir}, frames.DefaultScanOptions, 2*time.Second, time.Minute)
	now := time.Now()
	a, b := filepath.Join(dir, "a.fits"), filepath.Join(dir, "b.fits")
	write := func(path, text string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	look := func(after time.Duration, wantReady, wantGone []string) {
		t.Helper()
		now = now.Add(after)
		ready, gone, err := f.look(context.Background(), now)
		if err != nil || !slices.Equal(ready, wantReady) || !slices.Equal(gone, wantGone) {
			t.Errorf("ready %q, gone %q, %v; want %q and %q", ready, gone, err, wantReady, wantGone)
		}
	}
	write(a, "half")
	look(0, nil, nil)
	look(time.Second, nil, nil)
	write(a, "half and more") // grows: the wait begins anew
	look(time.Second, nil, nil)
	look(1900*time.Millisecond, nil, nil)
	look(100*time.Millisecond, []string{a}, nil)
	look(time.Hour, nil, nil) // once
	if f.known(a) {
		t.Error("a new file is known")
	}
	// Not whole: again when it changed, or when it rested for long.
	f.files[a].since = time.Now()
	if !f.tooEarly(a) {
		t.Error("it did not rest for a minute")
	}
	f.files[a].since = now
	look(59*time.Second, nil, nil)
	look(time.Second, []string{a}, nil)
	if f.files[a].since = time.Now().Add(-time.Minute); f.tooEarly(a) {
		t.Error("it rested for a minute")
	}
	// Renamed, and away with all that was there, and back.
	if err := os.Rename(a, b); err != nil {
		t.Fatal(err)
	}
	look(0, nil, []string{a})
	look(2*time.Second, []string{b}, nil)
	if !f.known(b) {
		t.Error("renamed and not known")
	}
	away := filepath.Join(t.TempDir(), "b.fits")
	if err := os.Rename(b, away); err != nil {
		t.Fatal(err)
	}
	look(time.Second, nil, []string{b})
	if err := os.Rename(away, b); err != nil {
		t.Fatal(err)
	}
	look(time.Hour, nil, nil)
	look(2*time.Second, []string{b}, nil)
	if !f.known(b) {
		t.Error("back and not known")
	}
	write(b, "another frame under this name")
	look(time.Second, nil, nil)
	look(2*time.Second, []string{b}, nil)
	if f.known(b) {
		t.Error("a new frame is known")
	}
	if len(f.files) != 1 {
		t.Errorf("%d files are remembered", len(f.files))
	}
	look(lostFor+time.Hour, nil, nil)
	if len(f.lost) != 0 {
		t.Errorf("%d lost files are remembered", len(f.lost))
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.look(context.Background(), now); err == nil {
		t.Error("no folder and no error")
	}
}

// Looks take a tenth of the time at most, however slow the folder answers.
func TestSlowFolder(t *testing.T) {
	now := time.Now()
	f := &folder{rest: 2 * time.Second, looked: now, took: time.Second}
	if f.due(now.Add(9*time.Second), true, time.Second) || !f.due(now.Add(10*time.Second), false, time.Second) {
		t.Error("looks are not a tenth of the time")
	}
	f.took = time.Millisecond
	if f.due(now.Add(499*time.Millisecond), true, 5*time.Second) || !f.due(now.Add(500*time.Millisecond), true, 5*time.Second) || f.due(now.Add(4*time.Second), false, 5*time.Second) {
		t.Error("a word does not bring the look forward, or silence does")
	}
}
