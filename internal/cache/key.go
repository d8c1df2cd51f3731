package cache

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"sync"
)

// Key stands for everything that a result depends on.
type Key [sha256.Size]byte

// KeyMaker gathers what a key stands for, part by part.
type KeyMaker struct {
	h   hash.Hash
	buf []byte // reused between numbers
}

// NewKey starts a key for results of one kind, made by this very program: a
// rebuilt program never trusts the figures of another build.
func NewKey(kind string) *KeyMaker {
	m := &KeyMaker{h: sha256.New()}
	return m.Add(kind, program())
}

// samples and sampleBytes say how much of a file is read to tell whether it
// changed: enough to see another header and other pixels, little enough to
// cost nothing beside measuring.
const (
	samples     = 16
	sampleBytes = 4096
)

// AddFile takes in a file: path, size, times of the last change of its content
// and of anything about it, and samples of its content from beginning to end.
// The second time is the system's own: a program that sets the first one back
// does not hide a change in between the samples.
func (m *KeyMaker) AddFile(path string) error {
	abs, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	m.Add(abs, info.Size(), info.ModTime().UnixNano(), changed(info))
	buf := make([]byte, sampleBytes)
	for i := range int64(samples) {
		n, err := f.ReadAt(buf, i*max(0, info.Size()-sampleBytes)/(samples-1))
		if err != nil && err != io.EOF {
			return err
		}
		m.h.Write(buf[:n])
	}
	return nil
}

// AddPixels takes in a long list of samples.
func (m *KeyMaker) AddPixels(px []float32) *KeyMaker {
	m.length(len(px))
	for len(px) > 0 {
		n := min(len(px), 16<<10)
		m.buf, _ = binary.Append(m.buf[:0], binary.LittleEndian, px[:n]) // of a type of fixed size: no error
		m.h.Write(m.buf)
		px = px[n:]
	}
	return m
}

// Key is the finished key.
func (m *KeyMaker) Key() Key { return Key(m.h.Sum(nil)) }

// program tells this build from any other.
var program = sync.OnceValue(func() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	info, err := os.Stat(path)
	if err != nil {
		return path
	}
	return fmt.Sprint(path, info.Size(), info.ModTime().UnixNano(), changed(info))
})
