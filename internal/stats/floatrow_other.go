//go:build !amd64

package stats

// AddRow adds a row to the first part of another.
func AddRow(to, row []float32) { addRowPlain(to, row) }

// AddFour is the sum of a row and four more, which must be as long as to, and tells
// whether it has gaps, NaN.
func AddFour(to, sum []float32, rows *[4][]float32) (gaps bool) { return addFourPlain(to, sum, rows) }

// AddWithin adds what of a row is less than limit either way to the first part of
// the sums, and counts it.
func AddWithin(sums, counts, row []float32, limit float32) { addWithinPlain(sums, counts, row, limit) }

// AddPairs sums two rows over 2x2 px into a third, half as long.
func AddPairs(dst, a, b []float32) { addPairsPlain(dst, a, b) }

// SumRows sums one to four rows, one after the other, as far as dst reaches.
func SumRows(dst []float32, rows ...[]float32) { sumRowsPlain(dst, rows) }

// TakeRow takes a row off the first part of another.
func TakeRow(from, row []float32) { takeRowPlain(from, row) }

// DivideRow divides the first part of a row by another; where that is not more than
// 0 it leaves NaN.
func DivideRow(row, by []float32) { divideRowPlain(row, by) }

// TopOfRow is the highest number of a row, the lowest there is of an empty one, and
// whether it has gaps, NaN.
func TopOfRow(row []float32) (top float32, gaps bool) { return topOfRowPlain(row) }

// NextReaching is the first place where a row is no less than it needs to be there,
// its length when there is none.
func NextReaching(row, need []float32) int { return nextReachingPlain(row, need) }

func subtractRamps(row, nodes []float32, high float32, marks []uint8) (top float32, odd bool) {
	return subtractRampsPlain(row, nodes, high, marks)
}

// blendRows sums four rows, each times its weight.
func blendRows(dst []float32, rows *[4][]float32, w *[4]float32) { blendRowsPlain(dst, rows, w) }
