package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// normalProducts multiplies the columns of a table of eight with each other. Of the
// square of sums, which is symmetric, the upper right quarter is left alone.
func normalProducts() {
	TEXT("normalProductsAVX2", NOSPLIT, "func(table, stamp *float64, n int, out *float64)")
	table, stamp := Load(Param("table"), GP64()), Load(Param("stamp"), GP64())
	n, out := Load(Param("n"), GP64()), Load(Param("out"), GP64())
	var sums [8][2]VecVirtual
	for i := range sums {
		for half := range halves(i) {
			sums[i][half] = YMM()
			VXORPD(sums[i][half], sums[i][half], sums[i][half])
		}
	}
	Label("loop")
	TESTQ(n, n)
	JZ(LabelRef("done"))
	Comment("A row, weighted.")
	weighted := [2]VecVirtual{YMM(), YMM()}
	VBROADCASTSD(Mem{Base: stamp, Disp: 24}, weighted[1])
	VMULPD(Mem{Base: table}, weighted[1], weighted[0])
	VMULPD(Mem{Base: table, Disp: 32}, weighted[1], weighted[1])
	Comment("Its products with each of its numbers.")
	for i := range sums {
		number, product := YMM(), YMM()
		VBROADCASTSD(Mem{Base: table, Disp: 8 * i}, number)
		for half := range halves(i) {
			VMULPD(weighted[half], number, product)
			VADDPD(product, sums[i][half], sums[i][half])
		}
	}
	ADDQ(Imm(64), table)
	ADDQ(Imm(32), stamp)
	DECQ(n)
	JMP(LabelRef("loop"))

	Label("done")
	for i := range sums {
		for half := range halves(i) {
			VMOVUPD(sums[i][half], Mem{Base: out, Disp: 64*i + 32*half})
		}
	}
	VZEROUPPER()
	RET()
}

// halves of row i that are needed.
func halves(i int) int { return 1 + i/4 }
