package frames

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"fitsqa/internal/fact"
)

// maxDeflate is the largest factor by which deflate can shrink data: a header
// that claims more than this times the file's size cannot be true (RFC 1951:
// 258 bytes for 2 bits).
const maxDeflate = 1032

// holds checks that a file that is not gzipped is long enough for the image,
// before anything is allocated for it.
func (u *unit) holds(s *source) error {
	if s.gz == nil && s.size < u.offset+u.dataBytes {
		return &TruncatedError{Have: s.size, Want: u.offset + padded(u.dataBytes)}
	}
	return nil
}

// arrived checks that the image's bytes are in the file, gzipped or not, and
// returns notes about harmless shortcomings.
func (u *unit) arrived(s *source) ([]fact.Fact, error) {
	if err := u.holds(s); err != nil {
		return nil, err
	}
	want := u.offset + u.dataBytes
	whole := u.offset + padded(u.dataBytes)
	if s.gz == nil {
		return paddingNote(s.size, whole), nil
	}
	if want > maxDeflate*s.size {
		return nil, &FormatError{fmt.Sprintf("the header claims %d bytes, more than %d bytes of gzip can hold", want, s.size)}
	}
	// The last four bytes of a gzip member are its unpacked length (RFC 1952).
	// If they say just what the header needs, the end of the file is there and
	// nothing need be unpacked now; anything else is counted.
	var tail [4]byte
	if _, err := s.file.ReadAt(tail[:], s.size-4); err != nil {
		return nil, plainError(err)
	}
	if binary.LittleEndian.Uint32(tail[:]) == uint32(whole) {
		return nil, nil
	}
	err := s.skip(want - s.pos)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, &TruncatedError{Have: s.pos, Want: whole}
	}
	if err != nil {
		return nil, err
	}
	n, err := io.CopyN(io.Discard, readerOnly{s}, whole-want)
	if err != nil && n < whole-want {
		return paddingNote(s.pos, whole), nil
	}
	return nil, nil
}

func paddingNote(have, whole int64) []fact.Fact {
	if have >= whole {
		return nil
	}
	return []fact.Fact{fact.Of(PaddingMissing, fact.Count("bytes", int(whole-have)))}
}
