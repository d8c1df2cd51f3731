//go:build !amd64

package stats

// rangeRow4 is sumRow4 without the squares.
func rangeRow4(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) (total [4]uint64) {
	return rangeRow4Plain(x0, x1, x2, x3, sum, lo, hi)
}
