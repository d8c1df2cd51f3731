package plane

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// Pixels that stand high above the background are few: they are marked while it is taken
// off, so that what looks for these need not go over the whole picture again.

type marks struct {
	least float32  // that is left of one
	side  int      // words of a row
	some  []uint64 // row by row, a bit for every piece of pixels that holds one
	rows  [2][]uint8
}

// piece is how many pixels of a row have one bit.
const piece = 64

// reset forgets those of the picture before; rows hold so many pixels.
func (m *marks) reset(least float32, width, rows int) {
	pieces := (width + piece - 1) / piece
	m.least, m.side = least, (pieces+63)/64
	m.some = slices.Grow(m.some[:0], rows*m.side)[:rows*m.side]
	clear(m.some)
	for k := range m.rows {
		m.rows[k] = make([]uint8, pieces*piece/8)
	}
}

// of is a row's marks, a bit for every pixel: those of the last even and odd row are kept.
func (m *marks) of(y int) []uint8 { return m.rows[y%2] }

// at is the marks of a piece.
func (m *marks) at(y, k int) uint64 { return binary.LittleEndian.Uint64(m.of(y)[k*piece/8:]) }

// gather notes which pieces of a row, whose marks are kept, have any.
func (m *marks) gather(y int) {
	for k := range len(m.of(y)) * 8 / piece {
		if m.at(y, k) != 0 {
			m.set(k*piece, y)
		}
	}
}

func (m *marks) set(x, y int) { m.some[y*m.side+x/piece/64] |= 1 << (x / piece % 64) }

// each calls f with the number of every piece of a row that holds a high pixel.
func (m *marks) each(y int, f func(k int)) {
	for k, word := range m.some[y*m.side:][:m.side] {
		for ; word != 0; word &= word - 1 {
			f(64*k + bits.TrailingZeros64(word))
		}
	}
}

// EachHigh calls f with the parts of row y, from one column up to another, that hold all of
// its pixels of which least is left: with all of it where that is little.
func (p *Plane) EachHigh(y int, least float32, f func(from, to int)) {
	if least < p.high.least || p.high.some == nil {
		f(0, p.W)
		return
	}
	p.high.each(y, func(k int) { f(k*piece, min((k+1)*piece, p.W)) })
}

// fill gives a pixel that holds no light that of those around.
func (p *Plane) fill(i int) {
	x, y := i%p.W, i/p.W
	if p.R[i] = p.around(x, y); p.R[i] >= p.high.least {
		p.high.set(x, y)
	}
}
