package tiled

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math/bits"
)

// riceCode is how the Rice code of one sample width is laid out: FITS 4.0
// section 10.4.1; the field widths are those of the reference implementation.
type riceCode struct {
	bytes  int // of a sample
	fsBits int // of the field that holds the split position
	fsMax  int // split position that stands for samples coded raw
}

var riceCodes = map[int]riceCode{
	1: {bytes: 1, fsBits: 3, fsMax: 6},
	2: {bytes: 2, fsBits: 4, fsMax: 14},
	4: {bytes: 4, fsBits: 5, fsMax: 25},
}

var errRiceShort = errors.New("a Rice tile ends before its pixels do")

// bitReader hands out the bits of a byte slice, the most significant first.
// Bits beyond the end are zeros; over tells that some were taken.
type bitReader struct {
	src   []byte
	word  uint64 // the next bits, at the top
	have  int    // how many bits of word are valid
	phony int    // how many zero bits were added beyond the end
}

// fill makes at least 32 bits available.
func (b *bitReader) fill() {
	if len(b.src) >= 8 {
		// Bits of the eight bytes beyond the whole ones counted here are put in
		// place too; the next fill puts the same bits there again.
		b.word |= binary.BigEndian.Uint64(b.src) >> b.have
		n := (64 - b.have) / 8
		b.src = b.src[n:]
		b.have += 8 * n
		return
	}
	for b.have <= 56 {
		if len(b.src) == 0 {
			b.phony += 64 - b.have
			b.have = 64
			return
		}
		b.word |= uint64(b.src[0]) << (56 - b.have)
		b.src = b.src[1:]
		b.have += 8
	}
}

// take is the next n bits, n at most 32.
func (b *bitReader) take(n int) uint32 {
	if b.have < n {
		b.fill()
	}
	v := uint32(b.word >> 32 >> (32 - n))
	b.word <<= n
	b.have -= n
	return v
}

// zeros counts and takes the zero bits before the next one bit, and takes that
// bit too. It gives up beyond the end.
func (b *bitReader) zeros() (int, bool) {
	n := 0
	for {
		if b.have < 32 {
			b.fill()
		}
		if lead := bits.LeadingZeros64(b.word); lead < b.have {
			b.word <<= lead + 1
			b.have -= lead + 1
			return n + lead, true
		}
		n += b.have
		b.word, b.have = b.word<<b.have, 0
		if len(b.src) == 0 {
			return 0, false
		}
	}
}

func (b *bitReader) over() bool { return b.have < b.phony }

// unrice decodes n samples of a Rice tile to dst as unsigned numbers of the
// code's width (two's complement for signed images). The samples come in
// blocks of block; each starts with the split position of its differences.
func unrice(dst []uint32, src []byte, block int, code riceCode) error {
	if len(src) < code.bytes {
		return errRiceShort
	}
	last := uint32(0)
	for _, b := range src[:code.bytes] {
		last = last<<8 | uint32(b)
	}
	b := &bitReader{src: src[code.bytes:]}
	mask := uint32(1)<<(8*code.bytes) - 1
	if code.bytes == 4 {
		mask = ^uint32(0)
	}
	for len(dst) > 0 {
		part := dst[:min(block, len(dst))]
		dst = dst[len(part):]
		fs := int(b.take(code.fsBits)) - 1
		switch {
		case fs < 0: // all differences are zero
			for i := range part {
				part[i] = last
			}
		case fs == code.fsMax: // differences as they are
			for i := range part {
				last = (last + unfold(b.take(8*code.bytes))) & mask
				part[i] = last
			}
		case fs > code.fsMax:
			return fmt.Errorf("a Rice tile has a split position of %d", fs)
		default:
			done, to := b.differences(part, fs, last, mask)
			last = to
			for i := done; i < len(part); i++ {
				high, ok := b.zeros()
				if !ok {
					return errRiceShort
				}
				last = (last + unfold(uint32(high)<<fs|b.take(fs))) & mask
				part[i] = last
			}
		}
		if b.over() {
			return errRiceShort
		}
	}
	return nil
}

// differences decodes samples of one block as long as each fits into the bits
// at hand and bytes are plenty; it is the loop that all the time goes into. It
// returns how many it did, and the last of them.
func (b *bitReader) differences(dst []uint32, fs int, last, mask uint32) (int, uint32) {
	src, word, have := b.src, b.word, uint(b.have)
	split := uint(fs)
	i := 0
	for ; i < len(dst) && len(src) >= 8; i++ {
		if have < 32 {
			word |= binary.BigEndian.Uint64(src) >> (have & 63)
			n := (64 - have) >> 3
			src = src[n:]
			have += 8 * n
		}
		lead := uint(bits.LeadingZeros64(word))
		used := lead + 1 + split
		if used > have {
			break
		}
		rest := word << (lead & 63) << 1
		word = rest << (split & 63)
		have -= used
		u := uint32(lead)<<(split&31) | uint32(rest>>1>>(63-split&63))
		last = (last + unfold(u)) & mask
		dst[i] = last
	}
	b.src, b.word, b.have = src, word, int(have)
	return i, last
}

// unfold maps 0, 1, 2, 3, ... back to 0, -1, 1, -2, ...
func unfold(u uint32) uint32 { return u>>1 ^ -(u & 1) }

// riceMost is the most samples that n bytes of Rice code can hold, so that no
// memory is spent on a tile that cannot be true.
func riceMost(n, block int, code riceCode) int64 {
	blocks := int64(max(0, n-code.bytes)) * 8 / int64(code.fsBits)
	return blocks * int64(block)
}
