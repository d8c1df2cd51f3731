// Package scratch keeps on disk what would take too much memory, in files without
// a name: the system lets go of them when they are no longer used, however the
// program ends.
package scratch

import (
	"os"
	"sync"
)

// File is one such file. Its parts are reserved once and then written and read
// from any goroutine.
type File struct {
	*os.File
	mu  sync.Mutex
	end int64
}

// New is nil where a file cannot be made, or not be used without its name.
func New() *File {
	f, err := os.CreateTemp("", "fitsqa-scratch-")
	if err != nil {
		return nil
	}
	if err := os.Remove(f.Name()); err != nil {
		f.Close()
		_ = os.Remove(f.Name()) // such systems remove it only now
		return nil
	}
	return &File{File: f}
}

// Reserve sets a part of so many bytes aside and tells where it begins.
func (s *File) Reserve(bytes int) (at int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	at = s.end
	s.end += int64(bytes)
	return at
}
