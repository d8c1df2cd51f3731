package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// weighWindow multiplies a window of a picture with weights, eight numbers at a
// time: even and odd eights of a row have sums of their own, so that an addition
// need not wait for the one before it.
func weighWindow() {
	TEXT("weighWindowAVX2", NOSPLIT, "func(picture *float32, columns int, weights *float32, rows, eights int) float32")
	picture, stride := Load(Param("picture"), GP64()), Load(Param("columns"), GP64())
	weights, rows, eights := Load(Param("weights"), GP64()), Load(Param("rows"), GP64()), Load(Param("eights"), GP64())
	SHLQ(Imm(2), stride)
	sums := [2]VecVirtual{YMM(), YMM()}
	for _, s := range sums {
		VXORPS(s, s, s)
	}
	at, left := GP64(), GP64()
	Label("row")
	MOVQ(picture, at)
	MOVQ(eights, left)
	Label("pair")
	weigh(at, weights, sums[0])
	DECQ(left)
	JZ(LabelRef("next"))
	weigh(at, weights, sums[1])
	DECQ(left)
	JNZ(LabelRef("pair"))
	Label("next")
	ADDQ(stride, picture)
	DECQ(rows)
	JNZ(LabelRef("row"))

	VADDPS(sums[1], sums[0], sums[0])
	Comment("Eight lanes to one: halves again and again.")
	sum, upper := sums[0].AsX(), XMM()
	VEXTRACTF128(Imm(1), sums[0], upper)
	VADDPS(upper, sum, sum)
	for _, order := range []uint64{0x4e, 0xb1} {
		VPERMILPS(Imm(order), sum, upper)
		VADDPS(upper, sum, sum)
	}
	Store(sum, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// weigh adds eight numbers times their weights, and goes on to the next eight.
func weigh(at, weights Register, sum VecVirtual) {
	x := YMM()
	VMOVUPS(Mem{Base: at}, x)
	VMULPS(Mem{Base: weights}, x, x)
	VADDPS(x, sum, sum)
	ADDQ(Imm(32), at)
	ADDQ(Imm(32), weights)
}
