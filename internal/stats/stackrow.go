package stats

// sumRow1 adds one frame's row to the sums; it returns the row's total.
func sumRow1(x []uint16, sum []uint32, sq []uint64, lo, hi []uint16) (total uint64) {
	n := len(x)
	sum, sq, lo, hi = sum[:n], sq[:n], lo[:n], hi[:n]
	for i, v := range x {
		w := uint32(v)
		sum[i] += w
		sq[i] += uint64(w * w)
		lo[i] = min(lo[i], v)
		hi[i] = max(hi[i], v)
		total += uint64(w)
	}
	return total
}

// rangeRow4Plain is sumRow1 for four frames at once, without the squares.
func rangeRow4Plain(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) (total [4]uint64) {
	n := len(x0)
	x1, x2, x3 = x1[:n], x2[:n], x3[:n]
	sum, lo, hi = sum[:n], lo[:n], hi[:n]
	var t0, t1, t2, t3 uint64
	for i, v0 := range x0 {
		v1, v2, v3 := x1[i], x2[i], x3[i]
		lo[i] = min(lo[i], v0, v1, v2, v3)
		hi[i] = max(hi[i], v0, v1, v2, v3)
		a, b, c, d := uint64(v0), uint64(v1), uint64(v2), uint64(v3)
		sum[i] += uint32(a + b + c + d)
		t0 += a
		t1 += b
		t2 += c
		t3 += d
	}
	return [4]uint64{t0, t1, t2, t3}
}

// squareRow4Plain adds the squares of four frames' rows.
func squareRow4Plain(x0, x1, x2, x3 []uint16, sq []uint64) {
	n := len(x0)
	x1, x2, x3, sq = x1[:n], x2[:n], x3[:n], sq[:n]
	for i, v0 := range x0 {
		a, b, c, d := uint64(v0), uint64(x1[i]), uint64(x2[i]), uint64(x3[i])
		sq[i] += a*a + b*b + c*c + d*d
	}
}

// countRow1 counts the differences of one frame's row from the frame before.
func countRow1(p, x []uint16, h *diffCounts) {
	x = x[:len(p)]
	var or uint32
	for i, v := range p {
		d := uint32(x[i]) - uint32(v)
		h.near[d&nearMask]++
		or |= d + nearDiff
	}
	if wide(or) {
		h.recount(p, x)
	}
}

// countRow4 is countRow1 for four frames in turn, which spreads neighbouring counts
// over four tables. It does nothing else: with the sums in the same loop there are too
// few registers, and it takes seven times as long.
func countRow4(p, x0, x1, x2, x3 []uint16, h []diffCounts) {
	n := len(p)
	x0, x1, x2, x3 = x0[:n], x1[:n], x2[:n], x3[:n]
	h0, h1, h2, h3 := &h[0].near, &h[1].near, &h[2].near, &h[3].near
	var or uint32
	for i, v := range p {
		a, b, c, d := uint32(x0[i]), uint32(x1[i]), uint32(x2[i]), uint32(x3[i])
		d0, d1, d2, d3 := a-uint32(v), b-a, c-b, d-c
		h0[d0&nearMask]++
		h1[d1&nearMask]++
		h2[d2&nearMask]++
		h3[d3&nearMask]++
		or |= (d0 + nearDiff) | (d1 + nearDiff) | (d2 + nearDiff) | (d3 + nearDiff)
	}
	if wide(or) {
		h[0].recount(p, x0)
		h[1].recount(x0, x1)
		h[2].recount(x1, x2)
		h[3].recount(x2, x3)
	}
}

func addColumns(col []int64, from, to []uint16) {
	col, from = col[:len(to)], from[:len(to)]
	for x, v := range to {
		col[x] += int64(v) - int64(from[x])
	}
}
