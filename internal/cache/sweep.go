package cache

import (
	"cmp"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

const (
	// keepUnused is how long an entry stays that no run asks for.
	keepUnused = 60 * 24 * time.Hour
	// keepUnfinished is how long a file stays that a run began and never
	// finished: writing one takes seconds.
	keepUnfinished = time.Hour
	// limit is how much room the entries may take together, bytes, between runs.
	limit = 2 << 30
)

// Sweep makes room: a run that has remembered much calls it at its end.
func (s *Store) Sweep() {
	if s != nil {
		s.sweep(time.Now())
	}
}

// sweep removes the leavings of killed runs, entries last used long ago, and
// the oldest of the others until the rest is within the limit.
func (s *Store) sweep(now time.Time) { s.sweepTo(now, limit) }

func (s *Store) sweepTo(now time.Time, limit int64) {
	all := s.entries()
	slices.SortFunc(all, func(a, b fs.FileInfo) int { return b.ModTime().Compare(a.ModTime()) })
	var used int64
	for _, e := range all {
		unfinished := filepath.Ext(e.Name()) != entrySuffix
		age := now.Sub(e.ModTime())
		used += e.Size()
		if used > limit && !unfinished || age > keepUnused || unfinished && age > keepUnfinished {
			used -= e.Size()
			_ = os.Remove(filepath.Join(s.dir, e.Name())) // another run may have removed it; an entry that stays does no harm
		}
	}
}

// Use is how many entries there are and the bytes that they take.
func (s *Store) Use() (entries int, bytes int64) {
	for _, e := range s.entries() {
		entries++
		bytes += e.Size()
	}
	return entries, bytes
}

// Clear removes every entry and nothing else.
func (s *Store) Clear() error {
	var first error
	for _, e := range s.entries() {
		first = cmp.Or(first, os.Remove(filepath.Join(s.dir, e.Name())))
	}
	return first
}

func (s *Store) entries() []fs.FileInfo {
	listed, _ := os.ReadDir(s.dir) // a folder that cannot be read is as good as empty
	var all []fs.FileInfo
	for _, e := range listed {
		if !strings.Contains(e.Name(), entrySuffix) {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() {
			all = append(all, info)
		}
	}
	return all
}
