package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// squareRows takes eight pixels of four frames at a time.
func squareRows() {
	TEXT("squareRowsAVX2", NOSPLIT, "func(x *[4]*uint16, n int, sq *uint64)")
	rows := Load(Param("x"), GP64())
	n := Load(Param("n"), GP64())
	sq := Load(Param("sq"), GP64())
	var row [4]GPVirtual
	for k := range row {
		row[k] = GP64()
		MOVQ(Mem{Base: rows, Disp: 8 * k}, row[k])
	}

	strides(n, 8, func(i GPVirtual) {
		Comment("Squares of even and odd pixels as 64-bit numbers, summed over the frames.")
		even, odd := YMM(), YMM()
		for k := range row {
			x, next := even, odd
			if k > 0 {
				x, next = YMM(), YMM()
			}
			VPMOVZXWD(Mem{Base: row[k], Index: i, Scale: 2}, x)
			VPSRLQ(Imm(32), x, next)
			VPMULUDQ(x, x, x)
			VPMULUDQ(next, next, next)
			if k > 0 {
				VPADDQ(x, even, even)
				VPADDQ(next, odd, odd)
			}
		}
		Comment("Put back in order.")
		first, second, low, high := YMM(), YMM(), YMM(), YMM()
		VPUNPCKLQDQ(odd, even, first)  // pixels 0, 1, 4 and 5
		VPUNPCKHQDQ(odd, even, second) // pixels 2, 3, 6 and 7
		VPERM2I128(Imm(0x20), second, first, low)
		VPERM2I128(Imm(0x31), second, first, high)
		for k, x := range []VecVirtual{low, high} {
			at := Mem{Base: sq, Index: i, Scale: 8, Disp: 32 * k}
			VPADDQ(at, x, x)
			VMOVDQU(x, at)
		}
	})
	VZEROUPPER()
	RET()
}
