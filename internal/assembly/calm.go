package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// calmMeans takes eight pixels at a time, until one of them has an extreme that
// lies further than reach from the mean of the others, all times their number.
func calmMeans() {
	TEXT("calmMeansAVX2", NOSPLIT, "func(dst *float32, sum *uint32, lo, hi *uint16, n int, others, reach int32, inverse float64) int")
	dst := Load(Param("dst"), GP64())
	sum := Load(Param("sum"), GP64())
	lo := Load(Param("lo"), GP64())
	hi := Load(Param("hi"), GP64())
	n := Load(Param("n"), GP64())
	others, reach, inverse := YMM(), YMM(), YMM()
	spread(Load(Param("others"), GP32()), others)
	spread(Load(Param("reach"), GP32()), reach)
	factor, _ := Param("inverse").Resolve()
	VBROADCASTSD(factor.Addr, inverse)

	i := strides(n, 8, func(i GPVirtual) {
		sums, low, high, rest := YMM(), YMM(), YMM(), YMM()
		VMOVDQU(Mem{Base: sum, Index: i, Scale: 4}, sums)
		VPMOVZXWD(Mem{Base: lo, Index: i, Scale: 2}, low)
		VPMOVZXWD(Mem{Base: hi, Index: i, Scale: 2}, high)
		Comment("What the others sum up to.")
		VPSUBD(low, sums, rest)
		VPSUBD(high, rest, rest)
		Comment("The highest above them, the lowest under them.")
		VPMULLD(others, low, low)
		VPMULLD(others, high, high)
		VPSUBD(rest, high, high)
		VPSUBD(low, rest, rest)
		VPMAXSD(high, rest, rest)
		VPCMPGTD(reach, rest, rest)
		VPTEST(rest, rest)
		JNZ(LabelRef("done"))
		Comment("Their means.")
		upper := XMM()
		VEXTRACTI128(Imm(1), sums, upper)
		for k, part := range []VecVirtual{sums.AsX().(VecVirtual), upper} {
			double, single := YMM(), XMM()
			VCVTDQ2PD(part, double)
			VMULPD(inverse, double, double)
			VCVTPD2PSY(double, single)
			VMOVUPS(single, Mem{Base: dst, Index: i, Scale: 4, Disp: 16 * k})
		}
	})
	Store(i, ReturnIndex(0))
	VZEROUPPER()
	RET()
}
