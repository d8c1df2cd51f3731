package stats

import "math"

// Rows of a picture in floating point, as every pixel of every sub passes through
// them. What is called plain takes one number after another.

func addRowPlain(to, row []float32) {
	to = to[:len(row)]
	for i, v := range row {
		to[i] += v
	}
}

func addFourPlain(to, sum []float32, rows *[4][]float32) (gaps bool) {
	a, b, c, d := rows[0][:len(to)], rows[1][:len(to)], rows[2][:len(to)], rows[3][:len(to)]
	for i, v := range sum[:len(to)] {
		v = v + a[i] + b[i] + c[i] + d[i]
		to[i] = v
		gaps = gaps || v != v
	}
	return gaps
}

func addWithinPlain(sums, counts, row []float32, limit float32) {
	sums, counts = sums[:len(row)], counts[:len(row)]
	for i, v := range row {
		if v < limit && v > -limit {
			sums[i] += v
			counts[i]++
		}
	}
}

func addPairsPlain(dst, a, b []float32) {
	a, b = a[:2*len(dst)], b[:2*len(dst)]
	for i := range dst {
		dst[i] = a[2*i] + a[2*i+1] + (b[2*i] + b[2*i+1])
	}
}

func takeRowPlain(from, row []float32) {
	from = from[:len(row)]
	for i, v := range row {
		from[i] -= v
	}
}

func divideRowPlain(row, by []float32) {
	row = row[:len(by)]
	for i, v := range by {
		if v > 0 {
			row[i] /= v
		} else {
			row[i] = float32(math.NaN())
		}
	}
}

func topOfRowPlain(row []float32) (top float32, gaps bool) {
	top = -math.MaxFloat32
	for _, v := range row {
		if v > top {
			top = v
		}
		gaps = gaps || v != v
	}
	return top, gaps
}

func nextReachingPlain(row, need []float32) int {
	need = need[:len(row)]
	for i, v := range row {
		if v >= need[i] {
			return i
		}
	}
	return len(row)
}

// subtractRampsPlain takes straight lines between nodes, nodeStep px apart, off a
// row. It gives the highest finite number that stood there, and whether one was
// no number or infinite, and marks those of which as much is left as makes them high:
// a byte for each line, the lowest bit for its first.
func subtractRampsPlain(row, nodes []float32, high float32, marks []uint8) (top float32, odd bool) {
	top = -math.MaxFloat32
	for k := 0; k*nodeStep < len(row); k++ {
		piece := row[k*nodeStep : min((k+1)*nodeStep, len(row))]
		some := uint8(0)
		slope := (nodes[k+1] - nodes[k]) / nodeStep
		for i, v := range piece {
			if v > top && v <= math.MaxFloat32 {
				top = v
			}
			odd = odd || v-v != 0
			piece[i] = v - (nodes[k] + float32(i)*slope)
			if piece[i] >= high {
				some |= 1 << i
			}
		}
		marks[k] = some
	}
	return top, odd
}

func blendRowsPlain(dst []float32, rows *[4][]float32, w *[4]float32) {
	a, b, c, d := rows[0][:len(dst)], rows[1][:len(dst)], rows[2][:len(dst)], rows[3][:len(dst)]
	for i := range dst {
		dst[i] = w[0]*a[i] + w[1]*b[i] + w[2]*c[i] + w[3]*d[i]
	}
}

func sumRowsPlain(dst []float32, rows [][]float32) {
	copy(dst, rows[0])
	for _, row := range rows[1:] {
		addRowPlain(dst, row[:len(dst)])
	}
}
