#include "textflag.h"

// func rangeRowsAVX2(x *[4]*uint16, n int, sum *uint32, lo, hi *uint16, total *[4]uint32)
//
// Sixteen pixels of four frames at a time: Y0 to Y3 hold their samples, Y8 to
// Y11 the totals of the frames in eight lanes, Y15 the mask of the lower half
// of every 32-bit lane.
TEXT ·rangeRowsAVX2(SB), NOSPLIT, $0-48
	MOVQ x+0(FP), AX
	MOVQ n+8(FP), CX
	MOVQ sum+16(FP), DI
	MOVQ lo+24(FP), SI
	MOVQ hi+32(FP), DX
	MOVQ 0(AX), R8
	MOVQ 8(AX), R9
	MOVQ 16(AX), R10
	MOVQ 24(AX), R11
	XORQ BX, BX
	VPXOR Y8, Y8, Y8
	VPXOR Y9, Y9, Y9
	VPXOR Y10, Y10, Y10
	VPXOR Y11, Y11, Y11
	VPCMPEQD Y15, Y15, Y15
	VPSRLD $16, Y15, Y15

loop:
	CMPQ BX, CX
	JGE  done
	VMOVDQU (R8)(BX*2), Y0
	VMOVDQU (R9)(BX*2), Y1
	VMOVDQU (R10)(BX*2), Y2
	VMOVDQU (R11)(BX*2), Y3

	// Extremes.
	VPMINUW Y0, Y1, Y4
	VPMINUW Y2, Y3, Y5
	VPMAXUW Y0, Y1, Y6
	VPMAXUW Y2, Y3, Y7
	VPMINUW Y4, Y5, Y4
	VPMAXUW Y6, Y7, Y6
	VPMINUW (SI)(BX*2), Y4, Y4
	VPMAXUW (DX)(BX*2), Y6, Y6
	VMOVDQU Y4, (SI)(BX*2)
	VMOVDQU Y6, (DX)(BX*2)

	// Even pixels in Y0 to Y3, odd ones in Y4 to Y7, as 32-bit numbers.
	VPSRLD $16, Y0, Y4
	VPSRLD $16, Y1, Y5
	VPSRLD $16, Y2, Y6
	VPSRLD $16, Y3, Y7
	VPAND  Y15, Y0, Y0
	VPAND  Y15, Y1, Y1
	VPAND  Y15, Y2, Y2
	VPAND  Y15, Y3, Y3

	// Totals of the frames.
	VPADDD Y0, Y4, Y12
	VPADDD Y1, Y5, Y13
	VPADDD Y12, Y8, Y8
	VPADDD Y13, Y9, Y9
	VPADDD Y2, Y6, Y12
	VPADDD Y3, Y7, Y13
	VPADDD Y12, Y10, Y10
	VPADDD Y13, Y11, Y11

	// Sums of the pixels, put back in order.
	VPADDD Y0, Y1, Y0
	VPADDD Y2, Y3, Y2
	VPADDD Y4, Y5, Y4
	VPADDD Y6, Y7, Y6
	VPADDD Y0, Y2, Y0
	VPADDD Y4, Y6, Y4
	VPUNPCKLDQ Y4, Y0, Y1 // pixels 0 to 3 and 8 to 11
	VPUNPCKHDQ Y4, Y0, Y2 // pixels 4 to 7 and 12 to 15
	VPERM2I128 $0x20, Y2, Y1, Y3
	VPERM2I128 $0x31, Y2, Y1, Y4
	VPADDD (DI)(BX*4), Y3, Y3
	VPADDD 32(DI)(BX*4), Y4, Y4
	VMOVDQU Y3, (DI)(BX*4)
	VMOVDQU Y4, 32(DI)(BX*4)
	ADDQ $16, BX
	JMP  loop

done:
	// Eight lanes of each total to one: pairs, pairs of pairs, then both halves.
	VPHADDD Y9, Y8, Y8
	VPHADDD Y11, Y10, Y10
	VPHADDD Y10, Y8, Y8
	VEXTRACTI128 $1, Y8, X9
	VPADDD X9, X8, X8
	MOVQ total+40(FP), AX
	VMOVDQU X8, (AX)
	VZEROUPPER
	RET
