package stats

//go:generate go run ../assembly -routines rangerow -out rangerow_amd64.s

import "golang.org/x/sys/cpu"

// rangeChunk is how many pixels are taken at once: their total stays under 2^32.
const rangeChunk = 1 << 16

// rangeRow4 is sumRow1 for four frames at once, without the squares. Most rows of a large series pass
// through here and nowhere else; with vector instructions they do so at the
// speed at which memory delivers them.
func rangeRow4(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) (total [4]uint64) {
	n := len(x0)
	x1, x2, x3, sum, lo, hi = x1[:n], x2[:n], x3[:n], sum[:n], lo[:n], hi[:n]
	at := 0
	for cpu.X86.HasAVX2 && n-at >= 16 {
		step := min((n-at)&^15, rangeChunk)
		var part [4]uint32
		rangeRowsAVX2(&[4]*uint16{&x0[at], &x1[at], &x2[at], &x3[at]}, step, &sum[at], &lo[at], &hi[at], &part)
		for i, t := range part {
			total[i] += uint64(t)
		}
		at += step
	}
	for i, t := range rangeRow4Plain(x0[at:], x1[at:], x2[at:], x3[at:], sum[at:], lo[at:], hi[at:]) {
		total[i] += t
	}
	return total
}

// rangeRowsAVX2 is rangeRow4 for n pixels, a multiple of 16 and at most rangeChunk.
//
//go:noescape
func rangeRowsAVX2(x *[4]*uint16, n int, sum *uint32, lo, hi *uint16, total *[4]uint32)

// squareRow4 adds the squares of four frames' rows.
func squareRow4(x0, x1, x2, x3 []uint16, sq []uint64) {
	n := len(x0)
	x1, x2, x3, sq = x1[:n], x2[:n], x3[:n], sq[:n]
	at := 0
	if cpu.X86.HasAVX2 && n >= 8 {
		at = n &^ 7
		squareRowsAVX2(&[4]*uint16{&x0[0], &x1[0], &x2[0], &x3[0]}, at, &sq[0])
	}
	squareRow4Plain(x0[at:], x1[at:], x2[at:], x3[at:], sq[at:])
}

// squareRowsAVX2 is squareRow4 for n pixels, a multiple of 8.
//
//go:noescape
func squareRowsAVX2(x *[4]*uint16, n int, sq *uint64)
