package stats

//go:generate go run ../assembly -routines floatrow -out floatrow_amd64.s

import "golang.org/x/sys/cpu"

// eights is how many of n numbers vector instructions take.
func eights(n int) int {
	if !cpu.X86.HasAVX2 {
		return 0
	}
	return n &^ 7
}

// AddRow adds a row to the first part of another.
func AddRow(to, row []float32) {
	at := eights(len(row))
	to = to[:len(row)]
	if at > 0 {
		addRowAVX2(&to[0], &row[0], at)
	}
	addRowPlain(to[at:], row[at:])
}

// AddWithin adds what of a row is less than limit either way to the first part of
// the sums, and counts it.
func AddWithin(sums, counts, row []float32, limit float32) {
	at := eights(len(row))
	sums, counts = sums[:len(row)], counts[:len(row)]
	if at > 0 {
		addWithinAVX2(&sums[0], &counts[0], &row[0], at, limit)
	}
	addWithinPlain(sums[at:], counts[at:], row[at:], limit)
}

// AddPairs sums two rows over 2x2 px into a third, half as long.
func AddPairs(dst, a, b []float32) {
	at := eights(len(dst))
	a, b = a[:2*len(dst)], b[:2*len(dst)]
	if at > 0 {
		addPairsAVX2(&dst[0], &a[0], &b[0], at)
	}
	addPairsPlain(dst[at:], a[2*at:], b[2*at:])
}

// SumRows sums one to four rows, one after the other, as far as dst reaches.
func SumRows(dst []float32, rows ...[]float32) {
	at := eights(len(dst))
	var first [4]*float32
	var rest [4][]float32
	for k, row := range rows {
		row = row[:len(dst)]
		rest[k] = row[at:]
		if at > 0 {
			first[k] = &row[0]
		}
	}
	switch {
	case at == 0:
	case len(rows) == 4:
		sumFourRowsAVX2(&dst[0], &first, at)
	case len(rows) == 3:
		sumThreeRowsAVX2(&dst[0], &first, at)
	case len(rows) == 2:
		sumTwoRowsAVX2(&dst[0], &first, at)
	default:
		copy(dst[:at], rows[0])
	}
	sumRowsPlain(dst[at:], rest[:len(rows)])
}

// TakeRow takes a row off the first part of another.
func TakeRow(from, row []float32) {
	at := eights(len(row))
	from = from[:len(row)]
	if at > 0 {
		takeRowAVX2(&from[0], &row[0], at)
	}
	takeRowPlain(from[at:], row[at:])
}

// DivideRow divides the first part of a row by another; where that is not more than
// 0 it leaves NaN.
func DivideRow(row, by []float32) {
	at := eights(len(by))
	row = row[:len(by)]
	if at > 0 {
		divideRowAVX2(&row[0], &by[0], at)
	}
	divideRowPlain(row[at:], by[at:])
}

// TopOfRow is the highest number of a row, the lowest there is of an empty one, and
// whether it has gaps, NaN.
func TopOfRow(row []float32) (top float32, gaps bool) {
	at := eights(len(row))
	top, gaps = topOfRowPlain(row[at:])
	if at > 0 {
		t, g := topOfRowAVX2(&row[0], at)
		top, gaps = max(top, t), gaps || g
	}
	return top, gaps
}

// NextReaching is the first place where a row is no less than it needs to be there,
// its length when there is none.
func NextReaching(row, need []float32) int {
	at := eights(len(row))
	need = need[:len(row)]
	if at > 0 {
		if i := nextReachingAVX2(&row[0], &need[0], at); i < at {
			return i
		}
	}
	return at + nextReachingPlain(row[at:], need[at:])
}

func subtractRamps(row, nodes []float32, high float32, marks []uint8) (top float32, odd bool) {
	at := eights(len(row))
	top, odd = subtractRampsPlain(row[at:], nodes[at/nodeStep:], high, marks[at/nodeStep:])
	if at > 0 {
		_ = nodes[at/nodeStep]
		t, o := subtractRampsAVX2(&row[0], &nodes[0], at, high, &marks[0])
		top, odd = max(top, t), odd || o
	}
	return top, odd
}

// AddFour is the sum of a row and four more, which must be as long as to, and tells
// whether it has gaps, NaN.
func AddFour(to, sum []float32, rows *[4][]float32) (gaps bool) {
	at := eights(len(to))
	first, rest := split(rows, len(to), at)
	sum = sum[:len(to)]
	if at > 0 {
		gaps = addFourAVX2(&to[0], &sum[0], &first, at)
	}
	return addFourPlain(to[at:], sum[at:], &rest) || gaps
}

// split gives where four rows of n numbers begin, and what is left behind those that
// vector instructions take.
func split(rows *[4][]float32, n, vector int) (first [4]*float32, rest [4][]float32) {
	for k, row := range rows {
		row = row[:n]
		rest[k] = row[vector:]
		if vector > 0 {
			first[k] = &row[0]
		}
	}
	return first, rest
}

// blendRows sums four rows, each times its weight.
func blendRows(dst []float32, rows *[4][]float32, w *[4]float32) {
	at := eights(len(dst))
	first, rest := split(rows, len(dst), at)
	if at > 0 {
		blendRowsAVX2(&dst[0], &first, w, at)
	}
	blendRowsPlain(dst[at:], &rest, w)
}

// What follows is the same for n numbers, a multiple of 8.

//go:noescape
func addRowAVX2(to, row *float32, n int)

//go:noescape
func addWithinAVX2(sums, counts, row *float32, n int, limit float32)

//go:noescape
func addPairsAVX2(dst, a, b *float32, n int)

//go:noescape
func takeRowAVX2(from, row *float32, n int)

//go:noescape
func divideRowAVX2(row, by *float32, n int)

//go:noescape
func topOfRowAVX2(row *float32, n int) (top float32, gaps bool)

//go:noescape
func nextReachingAVX2(row, need *float32, n int) int

//go:noescape
func subtractRampsAVX2(row, nodes *float32, n int, high float32, marks *uint8) (top float32, odd bool)

//go:noescape
func blendRowsAVX2(dst *float32, rows *[4]*float32, weights *[4]float32, n int)

//go:noescape
func addFourAVX2(to, sum *float32, rows *[4]*float32, n int) (gaps bool)

//go:noescape
func sumTwoRowsAVX2(dst *float32, rows *[4]*float32, n int)

//go:noescape
func sumThreeRowsAVX2(dst *float32, rows *[4]*float32, n int)

//go:noescape
func sumFourRowsAVX2(dst *float32, rows *[4]*float32, n int)
