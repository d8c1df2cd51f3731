// Package cache remembers what was measured of a frame, so that a frame that
// has not changed is not measured again.
//
// An entry is one file named by its key, written under a temporary name and
// renamed: two runs at once cannot tear it. It carries a checksum over key and
// content, so that an entry that is damaged, or another's under this name, is
// measured anew and never trusted. The key holds everything that the result
// depends on (see Key); there is nothing to invalidate. Entries that nobody
// asked for in a long time are swept away, and the oldest where all together
// take more room than they may.
package cache

import (
	"bytes"
	"crypto/sha256"
	"encoding"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/klauspost/compress/s2"
)

// magic opens every entry; another layout gets another magic.
const magic = "fitsqa cache 2\n"

const entrySuffix = ".entry"

// Store is a folder of entries. A nil Store remembers nothing.
type Store struct{ dir string }

// Open makes the folder if need be and sweeps old entries away.
func Open(dir string) (*Store, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	s := &Store{dir}
	s.sweep(time.Now())
	return s, nil
}

func (s *Store) path(k Key) string {
	return filepath.Join(s.dir, hex.EncodeToString(k[:])+entrySuffix)
}

// Get fills v, a pointer, with what was remembered under k. False when there
// is nothing, or nothing sound.
func (s *Store) Get(k Key, v any) bool {
	if s == nil {
		return false
	}
	raw, err := os.ReadFile(s.path(k))
	if err != nil {
		return false
	}
	if err := decode(k, raw, v); err != nil {
		return false
	}
	now := time.Now()
	_ = os.Chtimes(s.path(k), now, now) // only delays the sweep
	return true
}

// Has tells whether something is remembered under k, sound or not.
func (s *Store) Has(k Key) bool {
	if s == nil {
		return false
	}
	_, err := os.Stat(s.path(k))
	return err == nil
}

// Put remembers v under k. An error only means that the next run measures again.
func (s *Store) Put(k Key, v any) error {
	if s == nil {
		return nil
	}
	raw, err := encode(k, v)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(s.dir, "*"+entrySuffix+".new*")
	if err != nil {
		return err
	}
	_, err = f.Write(raw)
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), s.path(k))
	}
	if err != nil {
		_ = os.Remove(f.Name()) // the sweep gets what this leaves
	}
	return err
}

// encode turns v into an entry: an encoding.BinaryMarshaler as it says itself,
// without packing, anything else by gob.
func encode(k Key, v any) ([]byte, error) {
	if own, ok := v.(encoding.BinaryMarshaler); ok {
		content, err := own.MarshalBinary()
		return seal(k, content), err
	}
	var plain bytes.Buffer
	if err := gob.NewEncoder(&plain).Encode(v); err != nil {
		return nil, err
	}
	return seal(k, s2.Encode(nil, plain.Bytes())), nil
}

// seal puts the checksum before the content of an entry.
func seal(k Key, content []byte) []byte {
	sum := checksum(k, content)
	return append(append([]byte(magic), sum[:]...), content...)
}

func checksum(k Key, content []byte) (sum [sha256.Size]byte) {
	h := sha256.New()
	h.Write(k[:])
	h.Write(content)
	h.Sum(sum[:0])
	return sum
}

// maxEntry bounds what a damaged length can make decode allocate.
const maxEntry = 1 << 30

var errDamaged = errors.New("cache: damaged entry")

// decode is the inverse of encode. An encoding.BinaryUnmarshaler may keep what
// it is given: raw is used for nothing else.
func decode(k Key, raw []byte, v any) error {
	rest, ok := bytes.CutPrefix(raw, []byte(magic))
	if !ok || len(rest) < sha256.Size {
		return errDamaged
	}
	packed := rest[sha256.Size:]
	if checksum(k, packed) != [sha256.Size]byte(rest[:sha256.Size]) {
		return errDamaged
	}
	if own, ok := v.(encoding.BinaryUnmarshaler); ok {
		return own.UnmarshalBinary(packed)
	}
	if n, err := s2.DecodedLen(packed); err != nil || n > maxEntry {
		return errDamaged
	}
	plain, err := s2.Decode(nil, packed)
	if err != nil {
		return errDamaged
	}
	return gob.NewDecoder(bytes.NewReader(plain)).Decode(v)
}
