package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// swapBytes is a shuffle that exchanges the bytes of every 16-bit number.
func swapBytes() Mem {
	swap := GLOBL("swap", RODATA|NOPTR)
	for i := 0; i < 4; i += 2 {
		DATA(8*i, U64(0x0607040502030001))
		DATA(8*i+8, U64(0x0e0f0c0d0a0b0809))
	}
	return swap
}

// shorts decode big-endian 16-bit samples.
func shorts() {
	swap := swapBytes()
	decodeShorts(swap)
	floatShorts(swap)
}

// decodeShorts takes 32 samples at a time.
func decodeShorts(swap Mem) {
	TEXT("decodeShortsAVX2", NOSPLIT, "func(dst *uint16, src *byte, n int, xor uint16) (or uint16)")
	dst := Load(Param("dst"), GP64())
	src := Load(Param("src"), GP64())
	n := Load(Param("n"), GP64())
	bits := Load(Param("xor"), GP32())

	flip, order, or := YMM(), YMM(), YMM()
	one := XMM()
	VMOVD(bits.(GPVirtual).As32(), one)
	VPBROADCASTW(one, flip)
	VMOVDQU(swap, order)
	VPXOR(or, or, or)

	strides(n, 32, func(i GPVirtual) {
		for half := range 2 {
			x := YMM()
			VMOVDQU(Mem{Base: src, Index: i, Scale: 2, Disp: 32 * half}, x)
			VPSHUFB(order, x, x)
			VPXOR(flip, x, x)
			VMOVDQU(x, Mem{Base: dst, Index: i, Scale: 2, Disp: 32 * half})
			VPOR(x, or, or)
		}
	})
	Comment("Sixteen lanes to one: halves again and again.")
	upper := XMM()
	VEXTRACTI128(Imm(1), or, upper)
	VPOR(upper, or.AsX(), or.AsX())
	all, part := GP64(), GP64()
	VMOVQ(or.AsX(), all)
	VPEXTRQ(Imm(1), or.AsX(), part)
	ORQ(part, all)
	for _, shift := range []uint64{32, 16} {
		MOVQ(all, part)
		SHRQ(Imm(shift), part)
		ORQ(part, all)
	}
	Store(all.As16(), ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// floatShorts takes 16 samples at a time.
func floatShorts(swap Mem) {
	TEXT("floatShortsAVX2", NOSPLIT, "func(dst *float32, src *byte, n int, zero int32) (top int16)")
	dst := Load(Param("dst"), GP64())
	src := Load(Param("src"), GP64())
	n := Load(Param("n"), GP64())
	zeros, order, tops := YMM(), YMM(), YMM()
	spread(Load(Param("zero"), GP32()), zeros)
	VMOVDQU(swap, order)
	Comment("The least of all numbers.")
	VPCMPEQW(tops, tops, tops)
	VPSLLW(Imm(15), tops, tops)

	strides(n, 16, func(i GPVirtual) {
		x, lower, upper := YMM(), YMM(), YMM()
		high := XMM()
		VMOVDQU(Mem{Base: src, Index: i, Scale: 2}, x)
		VPSHUFB(order, x, x)
		VPMAXSW(x, tops, tops)
		VEXTRACTI128(Imm(1), x, high)
		VPMOVSXWD(x.AsX(), lower)
		VPMOVSXWD(high, upper)
		for k, half := range []VecVirtual{lower, upper} {
			VPADDD(zeros, half, half)
			VCVTDQ2PS(half, half)
			VMOVUPS(half, Mem{Base: dst, Index: i, Scale: 4, Disp: 32 * k})
		}
	})
	Comment("The highest of sixteen lanes: the lowest, without a sign, of what they lack to the highest number.")
	upper, most, top := XMM(), XMM(), GP32()
	VEXTRACTI128(Imm(1), tops, upper)
	VPMAXSW(upper, tops.AsX(), upper)
	VPCMPEQW(most, most, most)
	VPSRLW(Imm(1), most, most)
	VPXOR(most, upper, upper)
	VPHMINPOSUW(upper, upper)
	VMOVD(upper, top)
	XORL(U32(0x7fff), top)
	Store(top.As16(), ReturnIndex(0))
	VZEROUPPER()
	RET()
}
