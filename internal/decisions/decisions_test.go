package decisions

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/subs"
)

func TestSavedDecisionsComeBack(t *testing.T) {
	dir := t.TempDir()
	if all, err := Of(dir); err != nil || all != nil {
		t.Fatalf("of an empty folder: %v %v", all, err)
	}
	want := []subs.Decision{
		{Verdict: subs.Keep, Name: "lights/a b.fits", Content: strings.Repeat("0a", 16)},
		{Verdict: subs.Cull, Name: "two\nlines\xff.fits", Content: strings.Repeat("1b", 16)},
		{Verdict: subs.Keep, Name: "content:no.fits"},
	}
	if err := Save(dir, want); err != nil {
		t.Fatal(err)
	}
	got, err := Of(dir)
	if err != nil || !cmp.Equal(got, want) {
		t.Errorf("%v: %s", err, cmp.Diff(want, got))
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left %q", left)
	}
	if err := os.WriteFile(filepath.Join(dir, FileName), []byte("kull x\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Of(dir); err == nil || !strings.Contains(err.Error(), "line 1") {
		t.Errorf("a damaged file: %v", err)
	}
}

func TestWithReplacesTheSameFileOnly(t *testing.T) {
	a, b := strings.Repeat("a", 32), strings.Repeat("b", 32)
	all := []subs.Decision{{Verdict: subs.Cull, Name: "x", Content: a}, {Verdict: subs.Keep, Name: "x"}, {Verdict: subs.Keep, Name: "y", Content: b}}
	got := With(all, subs.Decision{Verdict: subs.Keep, Name: "x", Content: a})
	if want := []subs.Decision{all[2], {Verdict: subs.Keep, Name: "x", Content: a}}; !cmp.Equal(got, want) {
		t.Error(cmp.Diff(want, got))
	}
	// Another night's file of the same name keeps its own.
	if got := With(all, subs.Decision{Name: "x", Content: b}); !cmp.Equal(got, all[:1]) {
		t.Error(cmp.Diff(all[:1], got))
	}
}
