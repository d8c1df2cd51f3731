package frames

import (
	"encoding/binary"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// DamagedError says that a file is whole and well-formed and yet not what was
// written: its bytes do not fit a checksum that it carries.
type DamagedError struct{ Reason string }

func (e *DamagedError) Error() string { return "damaged: " + e.Reason }

// onesSum is the 32-bit ones' complement sum of bytes that come in pieces (FITS
// 4.0 appendix J.1).
type onesSum struct {
	sum uint64 // of big-endian words of 4 bytes, not folded
	n   int64  // bytes so far
}

// Write implements io.Writer.
func (s *onesSum) Write(p []byte) (int, error) {
	whole := len(p)
	for ; len(p) > 0 && s.n%4 != 0; p = p[1:] {
		s.one(p[0])
	}
	s.n += int64(len(p) &^ 3)
	for ; len(p) >= 8; p = p[8:] {
		v := binary.BigEndian.Uint64(p)
		s.sum += v>>32 + v&0xffffffff
	}
	if len(p) >= 4 {
		s.sum += uint64(binary.BigEndian.Uint32(p))
		p = p[4:]
	}
	for _, b := range p {
		s.one(b)
	}
	s.sum = uint64(s.folded()) // there is room for 2^32 words between two of these
	return whole, nil
}

func (s *onesSum) one(b byte) {
	s.sum += uint64(b) << (24 - 8*(s.n%4))
	s.n++
}

// folded is the sum with every carry brought round.
func (s *onesSum) folded() uint32 {
	v := s.sum
	for v>>32 != 0 {
		v = v>>32 + v&0xffffffff
	}
	return uint32(v)
}

// checksums are what a header says of the bytes of its own unit.
type checksums struct {
	header  uint32 // sum of the header as it is
	data    uint32 // sum that DATASUM claims of the data
	hasData bool
	hasAll  bool // there is a CHECKSUM: it makes the sum of the whole unit all ones
}

// checksums reads DATASUM and CHECKSUM (FITS 4.0 section 4.4.2.7); an empty
// value says nothing.
func (h *header) checksums() checksums {
	c := checksums{header: h.sum.folded()}
	if card, ok := h.structural("DATASUM"); ok {
		v, err := strconv.ParseUint(strings.TrimSpace(card.value), 10, 32)
		c.data, c.hasData = uint32(v), err == nil
	}
	card, ok := h.structural("CHECKSUM")
	c.hasAll = ok && len(card.value) == 16 && strings.Trim(card.value, "0") != ""
	return c
}

// stale tells that the header was changed after its checksums were written, so
// that these say nothing about the data: programs that edit a file leave them
// behind, and change both. Damage to the data leaves the header as it was.
func (c checksums) stale() bool { return c.hasAll && c.hasData && !allOnes(c.header, c.data) }

func (c checksums) note() []string {
	if !c.stale() {
		return nil
	}
	return []string{"the file does not fit its CHECKSUM: its header, and perhaps its pixels, were changed or damaged after it was written"}
}

func allOnes(header, data uint32) bool {
	s := onesSum{sum: uint64(header) + uint64(data)}
	return s.folded() == 0xffffffff
}

// asks tells whether the data are to be summed at all.
func (c checksums) asks() bool { return (c.hasData || c.hasAll) && !c.stale() }

// check compares the sum of the data unit with what the header claims.
func (c checksums) check(data uint32) error {
	switch {
	case c.stale():
		return nil // said by note
	case c.hasData && data != c.data && !(zero(data) && zero(c.data)):
		return &DamagedError{fmt.Sprintf("the data sum to %d, the header's DATASUM is %d", data, c.data)}
	case c.hasAll && !c.hasData && !allOnes(c.header, data):
		return &DamagedError{"header and data do not fit their CHECKSUM"}
	}
	return nil
}

// zero tells either of the two zeros of ones' complement.
func zero(sum uint32) bool { return sum == 0 || sum == 0xffffffff }

// verify reads what is left of the file where it carries checksums, once the
// last row has been read, and compares: the data unit with the header's sums,
// gzip with its own.
func (r *Reader) verify() error {
	if r.u.sums.asks() {
		sum, err := r.dataSum()
		if err != nil {
			return err
		}
		if err := r.u.sums.check(sum); err != nil {
			return err
		}
	}
	return r.src.drain()
}

// dataSum is the sum of the whole data unit: of the bytes that went by, where
// they all did, else of the unit read once more.
func (r *Reader) dataSum() (uint32, error) {
	end := r.u.offset + padded(r.u.dataBytes)
	switch {
	case r.u.tiles != nil && r.src.gz != nil:
		if _, err := io.CopyN(&r.sum, readerOnly{r.src}, end-r.src.pos); err != nil && !isEnd(err) { // padding may be missing
			return 0, err
		}
	case r.sum.n == r.src.pos-r.u.offset && r.u.tiles == nil:
		if _, err := io.CopyN(&r.sum, readerOnly{r.src}, end-r.src.pos); err != nil && !isEnd(err) {
			return 0, err
		}
	default:
		r.sum = onesSum{}
		if _, err := io.Copy(&r.sum, io.NewSectionReader(r.src.file, r.u.offset, end-r.u.offset)); err != nil {
			return 0, plainError(err)
		}
	}
	return r.sum.folded(), nil
}
