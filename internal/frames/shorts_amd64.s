#include "textflag.h"

// swap exchanges the bytes of every 16-bit number.
DATA swap<>+0(SB)/8, $0x0607040502030001
DATA swap<>+8(SB)/8, $0x0e0f0c0d0a0b0809
DATA swap<>+16(SB)/8, $0x0607040502030001
DATA swap<>+24(SB)/8, $0x0e0f0c0d0a0b0809
GLOBL swap<>(SB), RODATA|NOPTR, $32

// func decodeShortsAVX2(dst *uint16, src *byte, n int, xor uint16) (or uint16)
TEXT ·decodeShortsAVX2(SB), NOSPLIT, $0-34
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ n+16(FP), CX
	MOVWLZX xor+24(FP), AX
	MOVQ AX, X3
	VPBROADCASTW X3, Y3
	VMOVDQU swap<>(SB), Y2
	VPXOR Y4, Y4, Y4
	XORQ BX, BX

loop:
	CMPQ BX, CX
	JGE  done
	VMOVDQU (SI)(BX*2), Y0
	VMOVDQU 32(SI)(BX*2), Y1
	VPSHUFB Y2, Y0, Y0
	VPSHUFB Y2, Y1, Y1
	VPXOR Y3, Y0, Y0
	VPXOR Y3, Y1, Y1
	VMOVDQU Y0, (DI)(BX*2)
	VMOVDQU Y1, 32(DI)(BX*2)
	VPOR Y0, Y4, Y4
	VPOR Y1, Y4, Y4
	ADDQ $32, BX
	JMP  loop

done:
	VEXTRACTI128 $1, Y4, X0
	VPOR X0, X4, X4
	MOVQ X4, AX
	VPEXTRQ $1, X4, DX
	ORQ  DX, AX
	MOVQ AX, DX
	SHRQ $32, DX
	ORQ  DX, AX
	MOVQ AX, DX
	SHRQ $16, DX
	ORQ  DX, AX
	MOVW AX, or+32(FP)
	VZEROUPPER
	RET

// func floatShortsAVX2(dst *float32, src *byte, n int, zero int32)
TEXT ·floatShortsAVX2(SB), NOSPLIT, $0-28
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ n+16(FP), CX
	MOVLQZX zero+24(FP), AX
	MOVQ AX, X3
	VPBROADCASTD X3, Y3
	VMOVDQU swap<>(SB), Y2
	XORQ BX, BX

floats:
	CMPQ BX, CX
	JGE  end
	VMOVDQU (SI)(BX*2), Y0
	VPSHUFB Y2, Y0, Y0
	VPMOVSXWD X0, Y1
	VEXTRACTI128 $1, Y0, X0
	VPMOVSXWD X0, Y0
	VPADDD Y3, Y1, Y1
	VPADDD Y3, Y0, Y0
	VCVTDQ2PS Y1, Y1
	VCVTDQ2PS Y0, Y0
	VMOVUPS Y1, (DI)(BX*4)
	VMOVUPS Y0, 32(DI)(BX*4)
	ADDQ $16, BX
	JMP  floats

end:
	VZEROUPPER
	RET
