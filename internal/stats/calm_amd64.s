#include "textflag.h"

// func calmMeansAVX2(dst *float32, sum *uint32, lo, hi *uint16, n int, others, reach int32, inverse float64) int
//
// Eight pixels at a time, until one of them has an extreme that lies further
// than reach from the mean of the others, all times their number.
TEXT ·calmMeansAVX2(SB), NOSPLIT, $0-64
	MOVQ dst+0(FP), DI
	MOVQ sum+8(FP), SI
	MOVQ lo+16(FP), R8
	MOVQ hi+24(FP), R9
	MOVQ n+32(FP), CX
	MOVL others+40(FP), AX
	MOVQ AX, X15
	VPBROADCASTD X15, Y15
	MOVL reach+44(FP), AX
	MOVQ AX, X14
	VPBROADCASTD X14, Y14
	VBROADCASTSD inverse+48(FP), Y13
	XORQ BX, BX

loop:
	CMPQ BX, CX
	JGE  done
	VMOVDQU (SI)(BX*4), Y0
	VPMOVZXWD (R8)(BX*2), Y1
	VPMOVZXWD (R9)(BX*2), Y2
	VPSUBD Y1, Y0, Y3
	VPSUBD Y2, Y3, Y3 // what the others sum up to
	VPMULLD Y15, Y1, Y1
	VPMULLD Y15, Y2, Y2
	VPSUBD Y3, Y2, Y2 // the highest above them
	VPSUBD Y1, Y3, Y3 // the lowest under them
	VPMAXSD Y2, Y3, Y3
	VPCMPGTD Y14, Y3, Y3
	VPTEST Y3, Y3
	JNZ  done
	VEXTRACTI128 $1, Y0, X1
	VCVTDQ2PD X0, Y2
	VCVTDQ2PD X1, Y3
	VMULPD Y13, Y2, Y2
	VMULPD Y13, Y3, Y3
	VCVTPD2PSY Y2, X2
	VCVTPD2PSY Y3, X3
	VMOVUPS X2, (DI)(BX*4)
	VMOVUPS X3, 16(DI)(BX*4)
	ADDQ $8, BX
	JMP  loop

done:
	MOVQ BX, ret+56(FP)
	VZEROUPPER
	RET
