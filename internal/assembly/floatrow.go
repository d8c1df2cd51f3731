package main

import (
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// floatRows work on rows of a picture in floating point, eight numbers at a time.
func floatRows() {
	changeRow("addRowAVX2", "to", VADDPS)
	addWithin()
	addPairs()
	changeRow("takeRowAVX2", "from", VSUBPS)
	divideRow()
	topOfRow()
	nextReaching()
	subtractRamps()
	blendRows()
	addFour()
	sumRows("sumTwoRowsAVX2", 2)
	sumRows("sumThreeRowsAVX2", 3)
	sumRows("sumFourRowsAVX2", 4)
}

// eights goes over n numbers, a multiple of 8.
func eights(n Register, body func(i GPVirtual)) { strides(n, 8, body) }

// at is eight numbers of a row from the i-th on.
func at(row Register, i Register) Mem { return Mem{Base: row, Index: i, Scale: 4} }

func changeRow(routine, name string, by func(...Op)) {
	TEXT(routine, NOSPLIT, "func("+name+", row *float32, n int)")
	changed, row, n := Load(Param(name), GP64()), Load(Param("row"), GP64()), Load(Param("n"), GP64())
	eights(n, func(i GPVirtual) {
		x := YMM()
		VMOVUPS(at(changed, i), x)
		by(at(row, i), x, x)
		VMOVUPS(x, at(changed, i))
	})
	VZEROUPPER()
	RET()
}

// addWithin adds up numbers that are less than a limit either way, and counts them.
func addWithin() {
	TEXT("addWithinAVX2", NOSPLIT, "func(sums, counts, row *float32, n int, limit float32)")
	sums, counts, row := Load(Param("sums"), GP64()), Load(Param("counts"), GP64()), Load(Param("row"), GP64())
	n, limit := Load(Param("n"), GP64()), YMM()
	bound, _ := Param("limit").Resolve()
	VBROADCASTSS(bound.Addr, limit)
	one, size := everywhere(1), everywhere(math.Float32frombits(math.MaxInt32))
	eights(n, func(i GPVirtual) {
		x, within := YMM(), YMM()
		VMOVUPS(at(row, i), x)
		Comment("Without its sign.")
		VANDPS(size, x, within)
		VCMPPS(less, limit, within, within)
		VANDPS(within, x, x)
		VADDPS(at(sums, i), x, x)
		VMOVUPS(x, at(sums, i))
		VANDPS(one, within, within)
		VADDPS(at(counts, i), within, within)
		VMOVUPS(within, at(counts, i))
	})
	VZEROUPPER()
	RET()
}

func addPairs() {
	TEXT("addPairsAVX2", NOSPLIT, "func(dst, a, b *float32, n int)")
	dst, n := Load(Param("dst"), GP64()), Load(Param("n"), GP64())
	rows := [2]Register{Load(Param("a"), GP64()), Load(Param("b"), GP64())}
	eights(n, func(i GPVirtual) {
		var sums [2]VecVirtual
		for k, row := range rows {
			next := YMM()
			sums[k] = YMM()
			VMOVUPS(Mem{Base: row, Index: i, Scale: 8}, sums[k])
			VMOVUPS(Mem{Base: row, Index: i, Scale: 8, Disp: 32}, next)
			VHADDPS(next, sums[k], sums[k])
		}
		VADDPS(sums[1], sums[0], sums[0])
		Comment("Sums came in the order 0 1 4 5 2 3 6 7.")
		VPERMQ(Imm(0xd8), sums[0], sums[0])
		VMOVUPS(sums[0], at(dst, i))
	})
	VZEROUPPER()
	RET()
}

// divideRow divides one row by another, where that is more than 0.
func divideRow() {
	TEXT("divideRowAVX2", NOSPLIT, "func(row, by *float32, n int)")
	row, by, n := Load(Param("row"), GP64()), Load(Param("by"), GP64()), Load(Param("n"), GP64())
	zero := YMM()
	VXORPS(zero, zero, zero)
	eights(n, func(i GPVirtual) {
		x, divisor := YMM(), YMM()
		VMOVUPS(at(by, i), divisor)
		VMOVUPS(at(row, i), x)
		VDIVPS(divisor, x, x)
		Comment("All bits set are no number.")
		VCMPPS(notGreater, zero, divisor, divisor)
		VORPS(divisor, x, x)
		VMOVUPS(x, at(row, i))
	})
	VZEROUPPER()
	RET()
}

// topOfRow keeps the highest of eight lanes each, and whether one was no number.
func topOfRow() {
	TEXT("topOfRowAVX2", NOSPLIT, "func(row *float32, n int) (top float32, gaps bool)")
	row, n := Load(Param("row"), GP64()), Load(Param("n"), GP64())
	top, gaps := startTop(), YMM()
	VXORPS(gaps, gaps, gaps)
	eights(n, func(i GPVirtual) {
		x, gap := YMM(), YMM()
		VMOVUPS(at(row, i), x)
		VCMPPS(unordered, x, x, gap)
		VORPS(gap, gaps, gaps)
		Comment("Of two, one of which is no number, the second counts.")
		VMAXPS(top, x, top)
	})
	storeTop(top, gaps)
}

// Predicates of comparisons (Intel SDM, table 3-1).
var (
	unordered    = Imm(0x03)
	less         = Imm(0x11) // false of what is no number, as those that follow
	atLeastOther = Imm(0x1d)
	notGreater   = Imm(0x1a) // true of what is no number
)

// addFour sums five rows, and tells whether a sum is no number.
func addFour() {
	TEXT("addFourAVX2", NOSPLIT, "func(to, sum *float32, rows *[4]*float32, n int) (gaps bool)")
	to, sum, rows, n := Load(Param("to"), GP64()), Load(Param("sum"), GP64()), Load(Param("rows"), GP64()), Load(Param("n"), GP64())
	var row [4]GPVirtual
	for k := range row {
		row[k] = GP64()
		MOVQ(Mem{Base: rows, Disp: 8 * k}, row[k])
	}
	gaps := YMM()
	VXORPS(gaps, gaps, gaps)
	eights(n, func(i GPVirtual) {
		x, gap := YMM(), YMM()
		VMOVUPS(at(sum, i), x)
		for k := range row {
			VADDPS(at(row[k], i), x, x)
		}
		VMOVUPS(x, at(to, i))
		VCMPPS(unordered, x, x, gap)
		VORPS(gap, gaps, gaps)
	})
	storeOdd(gaps, 0)
}

func everywhere(x float32) VecVirtual {
	bits, all := GP32(), YMM()
	MOVL(U32(math.Float32bits(x)), bits)
	spread(bits, all)
	return all
}

func startTop() VecVirtual { return everywhere(-math.MaxFloat32) }

// highest brings eight lanes down to one.
func highest(top VecVirtual) Register {
	upper := XMM()
	VEXTRACTF128(Imm(1), top, upper)
	VMAXPS(upper, top.AsX(), top.AsX())
	for _, order := range []uint64{0x4e, 0xb1} {
		VPERMILPS(Imm(order), top.AsX(), upper)
		VMAXPS(upper, top.AsX(), top.AsX())
	}
	return top.AsX()
}

// storeTop gives the highest of eight lanes, and whether one is odd.
func storeTop(top, odd VecVirtual) {
	Store(highest(top), ReturnIndex(0))
	storeOdd(odd, 1)
}

// storeOdd gives whether one lane is odd, as the result of that index, and ends.
func storeOdd(odd VecVirtual, result int) {
	some := GP32()
	VMOVMSKPS(odd, some)
	TESTL(some, some)
	SETNE(some.As8())
	Store(some.As8(), ReturnIndex(result))
	VZEROUPPER()
	RET()
}

// nextReaching stops at the first eight of which one reaches what it needs. Where none of
// 32 does, which is almost everywhere, one look tells it of all.
func nextReaching() {
	TEXT("nextReachingAVX2", NOSPLIT, "func(row, need *float32, n int) int")
	row, need, n := Load(Param("row"), GP64()), Load(Param("need"), GP64()), Load(Param("n"), GP64())
	i, after, mask := GP64(), GP64(), GP32()
	reaching := func(k int) VecVirtual {
		x, least := Mem{Base: row, Index: i, Scale: 4, Disp: 32 * k}, Mem{Base: need, Index: i, Scale: 4, Disp: 32 * k}
		reached := YMM()
		VMOVUPS(x, reached)
		VCMPPS(atLeastOther, least, reached, reached)
		return reached
	}
	XORQ(i, i)
	Label("four")
	LEAQ(Mem{Base: i, Disp: 32}, after)
	CMPQ(after, n)
	JG(LabelRef("one"))
	some := reaching(0)
	for k := 1; k < 4; k++ {
		VORPS(reaching(k), some, some)
	}
	VMOVMSKPS(some, mask)
	TESTL(mask, mask)
	JNZ(LabelRef("one"))
	MOVQ(after, i)
	JMP(LabelRef("four"))
	Label("one")
	CMPQ(i, n)
	JGE(LabelRef("none"))
	VMOVMSKPS(reaching(0), mask)
	TESTL(mask, mask)
	JNZ(LabelRef("found"))
	ADDQ(Imm(8), i)
	JMP(LabelRef("one"))
	Label("found")
	BSFL(mask, mask)
	ADDQ(mask.As64(), i)
	Label("none")
	Store(i, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// subtractRamps takes off eight numbers a straight line between two nodes, and notes which
// are high then.
func subtractRamps() {
	ramp := GLOBL("ramp", RODATA|NOPTR)
	for k := range 8 {
		DATA(4*k, U32(math.Float32bits(float32(k)/8))) // an eighth of a number is exact
	}
	TEXT("subtractRampsAVX2", NOSPLIT, "func(row, nodes *float32, n int, high float32, marks *uint8) (top float32, odd bool)")
	row, nodes, n, marks := Load(Param("row"), GP64()), Load(Param("nodes"), GP64()), Load(Param("n"), GP64()), Load(Param("marks"), GP64())
	least := YMM()
	bound, _ := Param("high").Resolve()
	VBROADCASTSS(bound.Addr, least)
	top, odd := startTop(), YMM()
	VXORPS(odd, odd, odd)
	steps, level := YMM(), YMM()
	VMOVUPS(ramp, steps)
	VBROADCASTSS(Mem{Base: nodes}, level)
	eights(n, func(i GPVirtual) {
		x, line, next, nothing := YMM(), YMM(), YMM(), YMM()
		ADDQ(Imm(4), nodes)
		VBROADCASTSS(Mem{Base: nodes}, next)
		VSUBPS(level, next, line)
		VMULPS(steps, line, line)
		VADDPS(level, line, line)
		VMOVAPS(next, level)
		VMOVUPS(at(row, i), x)
		Comment("Nothing, and no number of what is no number or infinite.")
		VSUBPS(x, x, nothing)
		VORPS(nothing, odd, odd)
		Comment("The highest number: of two, one of which is no number, the second counts.")
		VADDPS(nothing, x, nothing)
		VMAXPS(top, nothing, top)
		VSUBPS(line, x, x)
		VMOVUPS(x, at(row, i))
		some := GP32()
		VCMPPS(atLeastOther, least, x, x)
		VMOVMSKPS(x, some)
		MOVB(some.As8(), Mem{Base: marks})
		INCQ(marks)
	})
	VCMPPS(unordered, odd, odd, odd)
	storeTop(top, odd)
}

func blendRows() {
	TEXT("blendRowsAVX2", NOSPLIT, "func(dst *float32, rows *[4]*float32, weights *[4]float32, n int)")
	dst, rows, weights, n := Load(Param("dst"), GP64()), Load(Param("rows"), GP64()), Load(Param("weights"), GP64()), Load(Param("n"), GP64())
	var row [4]GPVirtual
	var weight [4]VecVirtual
	for k := range row {
		row[k], weight[k] = GP64(), YMM()
		MOVQ(Mem{Base: rows, Disp: 8 * k}, row[k])
		VBROADCASTSS(Mem{Base: weights, Disp: 4 * k}, weight[k])
	}
	eights(n, func(i GPVirtual) {
		sum := YMM()
		VMULPS(at(row[0], i), weight[0], sum)
		for k := 1; k < 4; k++ {
			x := YMM()
			VMULPS(at(row[k], i), weight[k], x)
			VADDPS(x, sum, sum)
		}
		VMOVUPS(sum, at(dst, i))
	})
	VZEROUPPER()
	RET()
}

// sumRows sums so many rows, one after the other.
func sumRows(name string, count int) {
	TEXT(name, NOSPLIT, "func(dst *float32, rows *[4]*float32, n int)")
	dst, rows, n := Load(Param("dst"), GP64()), Load(Param("rows"), GP64()), Load(Param("n"), GP64())
	row := make([]GPVirtual, count)
	for k := range row {
		row[k] = GP64()
		MOVQ(Mem{Base: rows, Disp: 8 * k}, row[k])
	}
	eights(n, func(i GPVirtual) {
		sum := YMM()
		VMOVUPS(at(row[0], i), sum)
		for _, other := range row[1:] {
			VADDPS(at(other, i), sum, sum)
		}
		VMOVUPS(sum, at(dst, i))
	})
	VZEROUPPER()
	RET()
}
