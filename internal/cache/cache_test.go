package cache

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"
)

type result struct {
	Stars []float64
	Words string
}

func open(t *testing.T) *Store {
	t.Helper()
	s, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestRoundTrip(t *testing.T) {
	s, k := open(t), NewKey("test").Add(1, "a").Key()
	var got result
	if s.Get(k, &got) {
		t.Fatal("an empty store remembers something")
	}
	want := result{Stars: []float64{1, math.NaN(), math.Inf(1)}, Words: "x"}
	if err := s.Put(k, want); err != nil {
		t.Fatal(err)
	}
	if !s.Get(k, &got) || got.Words != "x" || got.Stars[0] != 1 || !math.IsNaN(got.Stars[1]) || !math.IsInf(got.Stars[2], 1) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if s.Get(NewKey("test").Add(1, "b").Key(), &got) {
		t.Error("another key finds the entry")
	}
}

func TestNilStoreRemembersNothing(t *testing.T) {
	var s *Store
	if err := s.Put(Key{}, 1); err != nil {
		t.Error(err)
	}
	var v int
	if s.Get(Key{}, &v) {
		t.Error("a nil store remembers something")
	}
}

// Every single damaged byte and every cut must be noticed.
func TestDamagedEntriesAreNotTrusted(t *testing.T) {
	s, k := open(t), NewKey("test").Key()
	if err := s.Put(k, result{Words: "true"}); err != nil {
		t.Fatal(err)
	}
	sound, err := os.ReadFile(s.path(k))
	if err != nil {
		t.Fatal(err)
	}
	try := func(what string, i int, raw []byte) {
		t.Helper()
		if err := os.WriteFile(s.path(k), raw, 0o600); err != nil {
			t.Fatal(err)
		}
		var got result
		if s.Get(k, &got) {
			t.Errorf("%s at byte %d was trusted", what, i)
		}
	}
	for i := range sound {
		bad := append([]byte(nil), sound...)
		bad[i] ^= 0x40
		try("damage", i, bad)
		try("cut", i, sound[:i])
	}
	if err := s.Put(k, result{Words: "again"}); err != nil {
		t.Fatal(err)
	}
	var got result
	if !s.Get(k, &got) || got.Words != "again" {
		t.Error("a damaged entry cannot be rebuilt")
	}
}

// Whatever changes of a file changes its key, also where the size stays and a
// program sets the time of the last change back.
func TestKeyFollowsTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fits")
	content := make([]byte, 200_000)
	stamp := time.Date(2031, 2, 3, 4, 5, 6, 7, time.UTC)
	write := func() {
		t.Helper()
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, stamp, stamp); err != nil {
			t.Fatal(err)
		}
	}
	key := func() Key {
		t.Helper()
		m := NewKey("frame")
		if err := m.AddFile(path); err != nil {
			t.Fatal(err)
		}
		return m.Key()
	}
	write()
	first := key()
	if key() != first {
		t.Error("the same file has two keys")
	}
	for _, at := range []int{0, len(content) - 1, 5000} { // the last one lies between the samples
		content[at] = 1
		time.Sleep(20 * time.Millisecond) // the clock of file times ticks a hundred times a second, or more
		if write(); key() == first && (at != 5000 || runtime.GOOS == "linux") {
			t.Errorf("a changed byte %d keeps the key", at)
		}
		content[at] = 0
	}
	stamp = stamp.Add(time.Nanosecond)
	if write(); key() == first {
		t.Error("a changed time keeps the key")
	}
}

func TestKeyTakesInEveryField(t *testing.T) {
	type inner struct {
		A float64
		b int
	}
	type options struct {
		In       inner
		List     []inner
		Map      map[string]float64
		To       *inner
		At       time.Time
		Err      error
		Progress func()
	}
	base := func() options {
		return options{inner{math.NaN(), 1}, []inner{{1, 2}}, map[string]float64{"x": 1, "y": 2}, &inner{3, 4}, time.Unix(5, 6), errors.New("e"), func() {}}
	}
	key := func(change func(*options)) Key {
		o := base()
		change(&o)
		return NewKey("options").Add(o).Key()
	}
	same := key(func(*options) {})
	if key(func(o *options) { o.Progress = nil }) != same || key(func(o *options) { o.At = o.At.UTC() }) != same {
		t.Error("what is no value, or the same one, changes the key")
	}
	for name, change := range map[string]func(*options){
		"number": func(o *options) { o.In.A = 0 }, "hidden": func(o *options) { o.In.b = 2 },
		"list": func(o *options) { o.List[0].b = 3 }, "length": func(o *options) { o.List = nil },
		"map": func(o *options) { o.Map["x"] = 2 }, "map key": func(o *options) { delete(o.Map, "y") },
		"pointer": func(o *options) { o.To.A = 1 }, "nil": func(o *options) { o.To = nil },
		"time": func(o *options) { o.At = time.Unix(5, 7) }, "error": func(o *options) { o.Err = errors.New("f") },
		"sign of zero": func(o *options) { o.In.A = math.Copysign(0, -1) },
	} {
		if key(change) == same {
			t.Errorf("%s: another value keeps the key", name)
		}
	}
}

// An entry that lies under another's name is not taken for that one.
func TestEntryBelongsToItsKey(t *testing.T) {
	s, a, b := open(t), NewKey("a").Key(), NewKey("b").Key()
	if err := s.Put(a, result{Words: "of a"}); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(s.path(a), s.path(b)); err != nil {
		t.Fatal(err)
	}
	var got result
	if s.Get(b, &got) {
		t.Errorf("the entry of another key was trusted: %+v", got)
	}
}

func TestSweepTakesTheUnusedAndTheOldest(t *testing.T) {
	s := open(t)
	keys := map[string]Key{}
	put := func(name string, age time.Duration) {
		t.Helper()
		keys[name] = NewKey(name).Key()
		if err := s.Put(keys[name], bytes.Repeat([]byte(name), 1000)); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(s.path(keys[name]), time.Now(), time.Now().Add(-age)); err != nil {
			t.Fatal(err)
		}
	}
	want := func(when string, names ...string) {
		t.Helper()
		for name, k := range keys {
			if s.Has(k) != slices.Contains(names, name) {
				t.Errorf("%s: %s is there: %v", when, name, s.Has(k))
			}
		}
	}
	put("old", keepUnused+time.Hour)
	put("last week's", 7*24*time.Hour)
	put("yesterday's", 24*time.Hour)
	put("fresh", 0)
	mine := filepath.Join(s.dir, "no entry of ours")
	if err := os.WriteFile(mine, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(s.dir); err != nil {
		t.Fatal(err)
	}
	want("at the start", "fresh", "yesterday's", "last week's")
	n, used := s.Use()
	if n != 3 {
		t.Errorf("%d entries", n)
	}
	s.sweepTo(time.Now(), used-1)
	want("over the limit", "fresh", "yesterday's")
	if err := s.Clear(); err != nil {
		t.Fatal(err)
	}
	want("cleared")
	if _, err := os.Stat(mine); err != nil {
		t.Error("a file that is no entry was removed")
	}
}

func TestManyWritersAtOnce(t *testing.T) {
	s, k := open(t), NewKey("same").Key()
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for range 50 {
				if err := s.Put(k, result{Words: "w", Stars: make([]float64, 100*i)}); err != nil {
					t.Error(err)
				}
				var got result
				if !s.Get(k, &got) || got.Words != "w" {
					t.Error("torn entry")
				}
			}
		})
	}
	wg.Wait()
}
