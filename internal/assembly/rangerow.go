package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// rangeRows takes sixteen pixels of four frames at a time.
func rangeRows() {
	TEXT("rangeRowsAVX2", NOSPLIT, "func(x *[4]*uint16, n int, sum *uint32, lo, hi *uint16, total *[4]uint32)")
	rows := Load(Param("x"), GP64())
	n := Load(Param("n"), GP64())
	sum := Load(Param("sum"), GP64())
	lo := Load(Param("lo"), GP64())
	hi := Load(Param("hi"), GP64())
	var row [4]GPVirtual
	var totals [4]VecVirtual // of the frames, in eight lanes
	for k := range row {
		row[k], totals[k] = GP64(), YMM()
		MOVQ(Mem{Base: rows, Disp: 8 * k}, row[k])
		VPXOR(totals[k], totals[k], totals[k])
	}
	lower := YMM() // the mask of the lower half of every 32-bit lane
	VPCMPEQD(lower, lower, lower)
	VPSRLD(Imm(16), lower, lower)

	strides(n, 16, func(i GPVirtual) {
		var even, odd [4]VecVirtual
		for k := range even {
			even[k], odd[k] = YMM(), YMM()
			VMOVDQU(Mem{Base: row[k], Index: i, Scale: 2}, even[k])
		}
		Comment("Extremes.")
		extreme(VPMINUW, even, Mem{Base: lo, Index: i, Scale: 2})
		extreme(VPMAXUW, even, Mem{Base: hi, Index: i, Scale: 2})
		Comment("Even and odd pixels as 32-bit numbers.")
		for k := range even {
			VPSRLD(Imm(16), even[k], odd[k])
			VPAND(lower, even[k], even[k])
		}
		Comment("Totals of the frames.")
		for k := range even {
			both := YMM()
			VPADDD(even[k], odd[k], both)
			VPADDD(both, totals[k], totals[k])
		}
		addInOrder(even, odd, Mem{Base: sum, Index: i, Scale: 4})
	})
	storeTotals(totals)
	VZEROUPPER()
	RET()
}

// storeTotals adds the eight lanes of each frame's total and hands the four over.
func storeTotals(totals [4]VecVirtual) {
	Comment("Eight lanes of each total to one: pairs, pairs of pairs, then both halves.")
	VPHADDD(totals[1], totals[0], totals[0])
	VPHADDD(totals[3], totals[2], totals[2])
	VPHADDD(totals[2], totals[0], totals[0])
	half, out := XMM(), Load(Param("total"), GP64())
	VEXTRACTI128(Imm(1), totals[0], half)
	VPADDD(half, totals[0].AsX(), half)
	VMOVDQU(half, Mem{Base: out})
}

// addInOrder adds four frames' even and odd pixels to the sums of sixteen.
func addInOrder(even, odd [4]VecVirtual, sum Mem) {
	Comment("Sums of the pixels, put back in order.")
	for _, x := range [][4]VecVirtual{even, odd} {
		VPADDD(x[0], x[1], x[0])
		VPADDD(x[2], x[3], x[2])
		VPADDD(x[0], x[2], x[0])
	}
	first, second, low, high := YMM(), YMM(), YMM(), YMM()
	VPUNPCKLDQ(odd[0], even[0], first)  // pixels 0 to 3 and 8 to 11
	VPUNPCKHDQ(odd[0], even[0], second) // pixels 4 to 7 and 12 to 15
	VPERM2I128(Imm(0x20), second, first, low)
	VPERM2I128(Imm(0x31), second, first, high)
	for k, x := range []VecVirtual{low, high} {
		at := sum.Offset(32 * k)
		VPADDD(at, x, x)
		VMOVDQU(x, at)
	}
}

// extreme brings what is kept of sixteen pixels up to date with four frames.
func extreme(of func(...Op), x [4]VecVirtual, kept Mem) {
	a, b := YMM(), YMM()
	of(x[0], x[1], a)
	of(x[2], x[3], b)
	of(a, b, a)
	of(kept, a, a)
	VMOVDQU(a, kept)
}
