package main

import (
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// ranked counts for 32 numbers at a time how many of all are less, and takes the highest
// of those that few enough are less than.
func ranked() {
	TEXT("rankedAVX2", NOSPLIT, "func(x *[64]float32, k, l int32) (kth, lth float32)")
	x := Load(Param("x"), GP64())
	var rank, top [2]VecVirtual
	for i, name := range []string{"k", "l"} {
		rank[i], top[i] = YMM(), everywhere(-math.MaxFloat32)
		spread(Load(Param(name), GP32()), rank[i])
	}
	for half := range 2 {
		var own, fewer [4]VecVirtual
		for i := range own {
			own[i], fewer[i] = YMM(), YMM()
			VMOVUPS(Mem{Base: x, Disp: 32 * (4*half + i)}, own[i])
			VPXOR(fewer[i], fewer[i], fewer[i])
		}
		other, i := YMM(), GP64()
		XORQ(i, i)
		all := []string{"first", "second"}[half]
		Label(all)
		VBROADCASTSS(at(x, i), other)
		for i := range own {
			fewerHere := YMM()
			VCMPPS(less, own[i], other, fewerHere)
			Comment("All bits set are -1.")
			VPSUBD(fewerHere, fewer[i], fewer[i])
		}
		INCQ(i)
		CMPQ(i, Imm(64))
		JL(LabelRef(all))
		for i := range own {
			for n := range rank {
				high := YMM()
				VPCMPGTD(rank[n], fewer[i], high)
				Comment("Those that too many are less than do not count.")
				VBLENDVPS(high, top[n], own[i], high)
				VMAXPS(high, top[n], top[n])
			}
		}
	}
	for n := range top {
		Store(highest(top[n]), ReturnIndex(n))
	}
	VZEROUPPER()
	RET()
}
