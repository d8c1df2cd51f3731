//go:build !amd64

package stats

// rangeRow4 is sumRow1 for four frames at once, without the squares.
func rangeRow4(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) (total [4]uint64) {
	return rangeRow4Plain(x0, x1, x2, x3, sum, lo, hi)
}

// squareRow4 adds the squares of four frames' rows.
func squareRow4(x0, x1, x2, x3 []uint16, sq []uint64) { squareRow4Plain(x0, x1, x2, x3, sq) }
