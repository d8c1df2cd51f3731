package cache

import (
	"math"
	"os"
	"path/filepath"
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

func TestKeyFollowsTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fits")
	content := make([]byte, 200_000)
	stamp := time.Date(2031, 2, 3, 4, 5, 6, 7, time.UTC)
	key := func() Key {
		t.Helper()
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, stamp, stamp); err != nil {
			t.Fatal(err)
		}
		m := NewKey("frame")
		if err := m.AddFile(path); err != nil {
			t.Fatal(err)
		}
		return m.Key()
	}
	first := key()
	if key() != first {
		t.Error("the same file has two keys")
	}
	content[0] = 1
	if key() == first {
		t.Error("a changed first byte keeps the key")
	}
	content[0], content[len(content)-1] = 0, 1
	if key() == first {
		t.Error("a changed last byte keeps the key")
	}
	content[len(content)-1] = 0
	stamp = stamp.Add(time.Nanosecond)
	if key() == first {
		t.Error("a changed time keeps the key")
	}
}

func TestSweepTakesOnlyTheUnused(t *testing.T) {
	s := open(t)
	old, fresh := NewKey("old").Key(), NewKey("fresh").Key()
	for _, k := range []Key{old, fresh} {
		if err := s.Put(k, 1); err != nil {
			t.Fatal(err)
		}
	}
	past := time.Now().Add(-keepUnused - time.Hour)
	if err := os.Chtimes(s.path(old), past, past); err != nil {
		t.Fatal(err)
	}
	again, err := Open(s.dir)
	if err != nil {
		t.Fatal(err)
	}
	var v int
	if again.Get(old, &v) {
		t.Error("an unused entry stayed")
	}
	if !again.Get(fresh, &v) {
		t.Error("a fresh entry was swept away")
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
