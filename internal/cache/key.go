package cache

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
)

// Key stands for everything that a result depends on.
type Key [sha256.Size]byte

// KeyMaker gathers what a key stands for, part by part.
type KeyMaker struct{ h hash.Hash }

// NewKey starts a key for results of one kind, made by this very program: a
// rebuilt program never trusts the figures of another build.
func NewKey(kind string) *KeyMaker {
	m := &KeyMaker{sha256.New()}
	m.Add(kind, program())
	return m
}

// Add takes in values; their printed form counts.
func (m *KeyMaker) Add(parts ...any) *KeyMaker {
	for _, p := range parts {
		text := fmt.Sprintf("%#v", p)
		var n [8]byte
		binary.LittleEndian.PutUint64(n[:], uint64(len(text)))
		m.h.Write(n[:])
		io.WriteString(m.h, text)
	}
	return m
}

// samples and sampleBytes say how much of a file is read to tell whether it
// changed: enough to see another header and other pixels, little enough to
// cost nothing beside measuring.
const (
	samples     = 16
	sampleBytes = 4096
)

// AddFile takes in a file: path, size, time of change and samples of its
// content from beginning to end.
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
	m.Add(abs, info.Size(), info.ModTime().UnixNano())
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

// Key is the finished key.
func (m *KeyMaker) Key() Key { return Key(m.h.Sum(nil)) }

// program tells this build from any other.
func program() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	info, err := os.Stat(path)
	if err != nil {
		return path
	}
	return fmt.Sprint(path, info.Size(), info.ModTime().UnixNano())
}
