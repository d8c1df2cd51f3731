package frames

import (
	"fmt"
	"strconv"
	"strings"

	"fitsqa/internal/fact"
)

// damagedError says that a file is whole and well-formed and yet not what was
// written: its bytes do not fit a checksum that it carries.
type damagedError struct{ Reason string }

func (e *damagedError) Error() string { return "damaged: " + e.Reason }

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

func (c checksums) note() []fact.Fact {
	if !c.stale() {
		return nil
	}
	return []fact.Fact{fact.Of(ChecksumStale)}
}

func allOnes(header, data uint32) bool {
	s := onesSum{sum: uint64(header) + uint64(data)}
	return s.folded() == 0xffffffff
}

// asks tells whether the data are to be summed at all.
func (c checksums) asks() bool { return (c.hasData || c.hasAll) && !c.stale() }

func (c checksums) check(data uint32) error {
	switch {
	case c.stale():
		return nil // said by note
	case c.hasData && data != c.data && !(zero(data) && zero(c.data)):
		return &damagedError{fmt.Sprintf("the data sum to %d, the header's DATASUM is %d", data, c.data)}
	case c.hasAll && !c.hasData && !allOnes(c.header, data):
		return &damagedError{"header and data do not fit their CHECKSUM"}
	}
	return nil
}

// zero tells either of the two zeros of ones' complement.
func zero(sum uint32) bool { return sum == 0 || sum == 0xffffffff }
