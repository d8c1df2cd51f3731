package main

import (
	"github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// spread puts a number of 32 bits into every lane.
func spread(number reg.Register, all reg.VecVirtual) {
	one := build.XMM()
	build.VMOVD(number.(reg.GPVirtual).As32(), one)
	build.VPBROADCASTD(one, all)
}

// strides goes over n numbers, a multiple of size; the body does so many from the i-th
// on. It ends at the label "done", where i is given.
func strides(n reg.Register, size uint64, body func(i reg.GPVirtual)) (i reg.GPVirtual) {
	i = build.GP64()
	build.XORQ(i, i)
	build.Label("loop")
	build.CMPQ(i, n)
	build.JGE(operand.LabelRef("done"))
	body(i)
	build.ADDQ(operand.Imm(size), i)
	build.JMP(operand.LabelRef("loop"))
	build.Label("done")
	return i
}
