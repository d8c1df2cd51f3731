package night

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/cache"
)

// Looks are recalled of files that are as they were, of no other, and of none
// after a run that did not see them.
func TestLooks(t *testing.T) {
	store, err := cache.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	for _, name := range []string{a, b} {
		if err := os.WriteFile(name, []byte(name), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if newLooks(nil, []string{dir}) != nil {
		t.Error("looks without a store")
	}
	run := func(want ...string) {
		t.Helper()
		l := newLooks(store, []string{dir})
		var got []string
		for i, name := range []string{a, b} {
			numbers, ok := l.Recall(name)
			if ok && slices.Equal(numbers, []float64{float64(i), 2}) {
				got = append(got, name)
			} else {
				l.Remember(name, []float64{float64(i), 2})
			}
		}
		l.save()
		if !slices.Equal(got, want) {
			t.Errorf("recalled %v, want %v", got, want)
		}
	}
	run()
	run(a, b)
	if other := newLooks(store, []string{dir, dir + "2"}); len(other.known) > 0 {
		t.Error("other folders recall these")
	}
	if err := os.WriteFile(a, []byte("changed"), 0o600); err != nil {
		t.Fatal(err)
	}
	run(b)
	if err := os.Chtimes(b, time.Now(), time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	run(a)
	newLooks(store, []string{dir}).save() // nothing was seen
	run()
}

// A file that changes while it is looked at is not taken for what was seen.
func TestLooksWhileChanging(t *testing.T) {
	store, err := cache.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	name := filepath.Join(dir, "a")
	write := func(text string) {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("before")
	l := newLooks(store, []string{dir})
	l.Recall(name)
	write("after, and longer")
	l.Remember(name, []float64{1})
	l.save()
	if numbers, ok := newLooks(store, []string{dir}).Recall(name); ok {
		t.Errorf("recalled %v of the file as it was before", numbers)
	}
}
