// Package cache remembers what was measured of a frame, so that a frame that
// has not changed is not measured again.
//
// An entry is one file named by its key, written under a temporary name and
// renamed: two runs at once cannot tear it. It carries a checksum, so that a
// damaged entry is measured anew and never trusted. The key holds everything
// that the result depends on (see Key); there is nothing to invalidate, and
// entries that nobody asked for in a long time are swept away.
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

// keepUnused is how long an entry stays that no run asks for.
const keepUnused = 60 * 24 * time.Hour

// magic opens every entry; another layout gets another magic.
const magic = "fitsqa cache 1\n"

// Store is a folder of entries. A nil Store remembers nothing.
type Store struct{ dir string }

// Open makes the folder if need be and sweeps old entries away.
func Open(dir string) (*Store, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	s := &Store{dir}
	s.sweep(time.Now().Add(-keepUnused))
	return s, nil
}

// sweep removes entries, and leavings of killed runs, last used before a time.
func (s *Store) sweep(before time.Time) {
	old, _ := filepath.Glob(filepath.Join(s.dir, "*.entry*")) // the pattern is well-formed, the only possible error
	for _, name := range old {
		if info, err := os.Lstat(name); err == nil && info.Mode().IsRegular() && info.ModTime().Before(before) {
			_ = os.Remove(name) // another run may have removed it; an entry that stays does no harm
		}
	}
}

func (s *Store) path(k Key) string {
	return filepath.Join(s.dir, hex.EncodeToString(k[:])+".entry")
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
	if err := decode(raw, v); err != nil {
		return false
	}
	now := time.Now()
	_ = os.Chtimes(s.path(k), now, now) // only delays the sweep
	return true
}

// Put remembers v under k. An error only means that the next run measures again.
func (s *Store) Put(k Key, v any) error {
	if s == nil {
		return nil
	}
	raw, err := encode(v)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(s.dir, "*.entry.new")
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
func encode(v any) ([]byte, error) {
	if own, ok := v.(encoding.BinaryMarshaler); ok {
		content, err := own.MarshalBinary()
		return seal(content), err
	}
	var plain bytes.Buffer
	if err := gob.NewEncoder(&plain).Encode(v); err != nil {
		return nil, err
	}
	return seal(s2.Encode(nil, plain.Bytes())), nil
}

// seal puts the checksum before the content of an entry.
func seal(content []byte) []byte {
	sum := sha256.Sum256(content)
	return append(append([]byte(magic), sum[:]...), content...)
}

// maxEntry bounds what a damaged length can make decode allocate.
const maxEntry = 1 << 30

var errDamaged = errors.New("cache: damaged entry")

// decode is the inverse of encode. An encoding.BinaryUnmarshaler may keep what
// it is given: raw is used for nothing else.
func decode(raw []byte, v any) error {
	rest, ok := bytes.CutPrefix(raw, []byte(magic))
	if !ok || len(rest) < sha256.Size {
		return errDamaged
	}
	packed := rest[sha256.Size:]
	if sha256.Sum256(packed) != [sha256.Size]byte(rest[:sha256.Size]) {
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
