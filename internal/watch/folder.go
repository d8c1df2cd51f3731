package watch

import (
	"context"
	"slices"
	"time"

	"fitsqa/internal/frames"
)

// folder knows the files below some folders: which are whole and new, which are
// gone.
type folder struct {
	roots          []string
	scan           frames.ScanOptions
	rest, patience time.Duration

	files      map[string]*file
	lost       map[content]time.Time // files that were taken and are gone, and since when
	looked     time.Time             // when the last look ended
	took       time.Duration         // the last look
	waiting    bool                  // some file does not rest yet
	frameBytes int64                 // size of the latest file
}

type file struct {
	bytes   int64
	changed time.Time // of its content, as the system says
	since   time.Time // when it was first seen so
	state   state
	known   bool // it was taken before, perhaps under another name
}

// content tells files apart well enough: times of the system's clock have many digits.
type content struct {
	bytes   int64
	changed int64 // Unix time, ns
}

func (k *file) content() content { return content{k.bytes, k.changed.UnixNano()} }

// lostFor is how long a file that is gone is known again when it is back: a drive
// that drops out, a folder that is mounted anew.
const lostFor = 12 * time.Hour

type state int

const (
	fresh state = iota // not read yet, or changed since
	tried              // could not be read, and may not be whole
	taken
)

func newFolder(roots []string, scan frames.ScanOptions, rest, patience time.Duration) *folder {
	scan.LeftOut = nil
	return &folder{roots: roots, scan: scan, rest: rest, patience: patience, files: map[string]*file{}, lost: map[content]time.Time{}}
}

// slowLooks bounds the share of time that looking takes: a network folder of
// thousands of files answers slowly.
const slowLooks = 10

// due tells whether to look again: when something was heard, when the look that a
// file's rest needs is due, or when the last look was long ago.
func (f *folder) due(now time.Time, heard bool, poll time.Duration) bool {
	wait := poll
	if heard || f.waiting {
		wait = f.rest / 4
	}
	return now.Sub(f.looked) >= max(wait, slowLooks*f.took)
}

// all are the files that are there at the beginning, whole or not: those that do
// not rest yet come again.
func (f *folder) all(ctx context.Context, now time.Time) ([]string, error) {
	_, _, err := f.look(ctx, now)
	if err != nil {
		return nil, err
	}
	var there []string
	for path, k := range f.files {
		if now.Sub(k.changed) >= f.rest || k.changed.After(now) {
			k.state = taken
			there = append(there, path)
		}
	}
	slices.Sort(there)
	return there, nil
}

// look finds what is whole and was not taken yet, and what was and is gone.
func (f *folder) look(ctx context.Context, now time.Time) (ready, gone []string, err error) {
	begun := time.Now()
	listed, err := frames.List(ctx, f.roots, f.scan)
	if err != nil {
		return nil, nil, err
	}
	here := map[string]bool{}
	f.waiting = false
	for _, l := range listed {
		here[l.Path] = true
		if f.see(l, now) {
			ready = append(ready, l.Path)
		}
	}
	gone = f.drop(here, now)
	f.took, f.looked = time.Since(begun), now
	return ready, gone, nil
}

// see notes a file as it is, and tells whether it is ready to be read.
func (f *folder) see(l *frames.Frame, now time.Time) bool {
	k := f.files[l.Path]
	if k == nil {
		k = &file{since: now, bytes: l.Size, changed: l.ModTime}
		k.known = f.wasTaken(k)
		f.files[l.Path] = k
	}
	if k.bytes != l.Size || !k.changed.Equal(l.ModTime) {
		*k = file{since: now, bytes: l.Size, changed: l.ModTime}
	}
	if k.state == taken {
		return false
	}
	wait := f.rest
	if k.state == tried {
		wait = f.patience
	}
	if now.Sub(k.since) < wait {
		f.waiting = f.waiting || k.state == fresh
		return false
	}
	f.frameBytes = l.Size
	k.state = taken
	return true
}

// wasTaken tells whether a file that was taken had this content and is gone, or is
// there no more: it was renamed.
func (f *folder) wasTaken(new *file) bool {
	if _, was := f.lost[new.content()]; was {
		return true
	}
	for path, k := range f.files {
		if k.state == taken && k.content() == new.content() && !exists(path) {
			return true
		}
	}
	return false
}

// drop forgets the files that are not here, and gives those that were taken.
func (f *folder) drop(here map[string]bool, now time.Time) (gone []string) {
	for path, k := range f.files {
		if here[path] {
			continue
		}
		delete(f.files, path)
		if k.state == taken {
			gone = append(gone, path)
			f.lost[k.content()] = now
		}
	}
	for c, since := range f.lost {
		if now.Sub(since) > lostFor {
			delete(f.lost, c)
		}
	}
	return gone
}

// tooEarly tells that a file that was taken could not be read: it is tried again
// once it changed or rested for longer. False when it did.
func (f *folder) tooEarly(path string) bool {
	k := f.files[path]
	if k == nil || time.Since(k.since) >= f.patience {
		return false
	}
	k.state = tried
	return true
}

// again has files that were ready come once more: the folder went away before they
// were read.
func (f *folder) again(ready []string) {
	for _, path := range ready {
		if k := f.files[path]; k != nil {
			k.state = fresh
		}
	}
}

func (f *folder) known(path string) bool { return f.files[path] != nil && f.files[path].known }
