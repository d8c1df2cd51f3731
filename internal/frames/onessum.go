package frames

import "encoding/binary"

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
