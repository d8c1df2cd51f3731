package registration

import (
	"math/bits"

	"fitsqa/internal/stars"
)

// cell is a square of cellSide on the sensor.
type cell struct{ x, y int32 }

const cellSide = 2 // px

func cellOf(s *stars.Star) cell { return cell{int32(s.X / cellSide), int32(s.Y / cellSide)} }

// detections gives every star and point of all fields, with the number of its field and
// its own there, which is noStar for points.
func detections(fields []*stars.Field, give func(st *stars.Star, field, star int)) {
	for k, f := range fields {
		if f == nil {
			continue
		}
		for i := range f.Stars {
			give(&f.Stars[i], k, i)
		}
		for i := range f.Points {
			give(&f.Points[i], k, noStar)
		}
	}
}

// sieve counts detections by their cells, of which some share a counter: no fewer than
// there are, as quickly as they can be counted.
type sieve []uint32

// A sieve has at least so many counters for each detection, as long as they are not more
// than fit into a processor's cache: then each has many detections, but so have places
// that most of so many fields share.
const countersEach, countersMost = 8, 1 << 21

func newSieve(fields []*stars.Field) sieve {
	n := 0
	for _, f := range fields {
		if f != nil {
			n += len(f.Stars) + len(f.Points)
		}
	}
	s := make(sieve, min(countersMost, 1<<bits.Len(uint(countersEach*n))))
	detections(fields, func(st *stars.Star, _, _ int) { *s.counter(cellOf(st))++ })
	return s
}

// counter of a cell: those of a row are side by side, up to the end.
func (s sieve) counter(c cell) *uint32 {
	const row = 2654435761 // multiplicative hash (Knuth 1973, The Art of Computer Programming 3, 6.4)
	return &s[(uint32(c.y)*row+uint32(c.x))&uint32(len(s)-1)]
}

// holds tells whether any two by two cells with c among them have so many detections, or
// share their counters with some that do.
func (s sieve) holds(c cell, need float64) bool {
	var around [3][3]uint32
	for dy := range int32(3) {
		for dx := range int32(3) {
			around[dy][dx] = *s.counter(cell{c.x + dx - 1, c.y + dy - 1})
		}
	}
	for y := range 2 {
		for x := range 2 {
			if float64(around[y][x]+around[y][x+1]+around[y+1][x]+around[y+1][x+1]) >= need {
				return true
			}
		}
	}
	return false
}

// crowded are the detections of all fields that may lie at one place with so many
// others, and where each is from. Those of one place lie within 2 fixedReach, so in
// two cells by two at most: most stars are alone there and need not be looked at.
func crowded(fields []*stars.Field, need float64) (list []stars.Star, from []hit) {
	sieve := newSieve(fields)
	detections(fields, func(st *stars.Star, field, star int) {
		if sieve.holds(cellOf(st), need) {
			list, from = append(list, *st), append(from, hit{field, star, st.Flux})
		}
	})
	return list, from
}
