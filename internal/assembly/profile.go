package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// profileRows lay the table of a profile's derivatives for four pixels at a time: the
// mean over a pixel by the Laplacian, or by nodes.
func profileRows() {
	firstPiece, lastPiece = quadrupled("firstPiece", 1023<<pieceBits), quadrupled("lastPiece", 1023<<pieceBits+pieces-1)
	rowsOf("laplacianRowsAVX2", true)
	rowsOf("nodeRowsAVX2", false)
}

// As in the table of the radial profile: bits of the mantissa that choose the piece, and
// how many there are.
const (
	pieceBits = 6
	pieces    = 10 << pieceBits
)

var firstPiece, lastPiece Mem

// quadrupled is a whole number in four lanes.
func quadrupled(name string, x uint64) Mem {
	m := GLOBL(name, RODATA|NOPTR)
	for k := range 4 {
		DATA(8*k, U64(x))
	}
	return m
}

// terms are the numbers that all pixels have in common, in the order of rowTerms.
var terms = map[string]int{}

func init() {
	for i, name := range []string{"x", "y", "amplitude", "floor", "cxx", "cxy", "cyy", "k", "first", "second", "third", "fourth",
		"trace", "biharmonic", "one", "minusTwo", "two", "four", "part"} {
		terms[name] = 8 * i
	}
}

// Places of a stamp's and of a node's numbers, and of what is kept while nodes are summed.
const (
	nodeSize                     = 32
	ofNodeX, ofNodeY, ofNodeWght = 0, 8, 16

	keptX, keptY, keptValue = 0, 32, 64
	sums                    = 96 // profile, its derivatives by x, y and the three of shape
)

// rowsOf writes one of the two.
func rowsOf(name string, laplace bool) {
	TEXT(name, NOSPLIT, "func(table, stamp *float64, n int, terms, nodes *float64, count int, pieces *float64) (inside bool)")
	table, stamp, n := Load(Param("table"), GP64()), Load(Param("stamp"), GP64()), Load(Param("n"), GP64())
	common, nodes, count, radial := Load(Param("terms"), GP64()), Load(Param("nodes"), GP64()), Load(Param("count"), GP64()), Load(Param("pieces"), GP64())
	kept := AllocLocal(sums + 6*32)
	term := func(name string) VecVirtual { return broadcast(Mem{Base: common, Disp: terms[name]}) }
	outside := YMM()
	VXORPD(outside, outside, outside)
	node, left := GP64(), GP64()

	Label("pixels")
	TESTQ(n, n)
	JZ(LabelRef("done"))
	zero := takePixels(stamp, kept)
	MOVQ(nodes, node)
	MOVQ(count, left)

	Label("node")
	place := func(at, ofNode int, middle string) VecVirtual {
		x := YMM()
		VMOVUPD(kept.Offset(at), x)
		return minus(plus(x, broadcast(Mem{Base: node, Disp: ofNode})), term(middle))
	}
	dx, dy := place(keptX, ofNodeX, "x"), place(keptY, ofNodeY, "y")
	ax := plus(times(dx, term("cxx")), times(dy, term("cxy")))
	ay := plus(times(dx, term("cxy")), times(dy, term("cyy")))
	u := plus(times(ax, dx), times(ay, dy))
	VXORPD(zero, zero, zero)
	VMAXPD(u, zero, u)
	v, slope := valueAt(term, u, [2]VecVirtual{ax, ay}, radial, outside, laplace)
	addNode(term, kept.Offset(sums), broadcast(Mem{Base: node, Disp: ofNodeWght}), v, slope, [2]VecVirtual{dx, dy}, [2]VecVirtual{ax, ay})
	ADDQ(Imm(nodeSize), node)
	DECQ(left)
	JNZ(LabelRef("node"))

	storeRows(term, kept, table)
	ADDQ(U32(4*64), table)
	ADDQ(U32(4*32), stamp)
	SUBQ(Imm(4), n)
	JMP(LabelRef("pixels"))

	Label("done")
	some := GP32()
	VMOVMSKPD(outside, some)
	TESTL(some, some)
	SETEQ(some.As8())
	Store(some.As8(), ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// takePixels keeps places and values of four pixels, and clears their sums. It returns zero.
func takePixels(stamp Register, kept Mem) VecVirtual {
	Comment("Places and values of four pixels.")
	column := turned(func(i int) Op { return Mem{Base: stamp, Disp: 32 * i} })
	VMOVUPD(column[0], kept.Offset(keptX))
	VMOVUPD(column[1], kept.Offset(keptY))
	VMOVUPD(column[2], kept.Offset(keptValue))
	zero := YMM()
	VXORPD(zero, zero, zero)
	for i := range 6 {
		VMOVUPD(zero, kept.Offset(sums+32*i))
	}
	return zero
}

// valueAt is the profile at u and its slope, or their means over a pixel.
func valueAt(term func(string) VecVirtual, u VecVirtual, a [2]VecVirtual, radial Register, outside VecVirtual, laplace bool) (v, slope VecVirtual) {
	over := YMM()
	VMOVAPD(plus(times(u, term("k")), term("one")), over)
	VDIVPD(over, term("one"), over)
	m := radialAt(u, term("one"), radial, outside)
	d1 := times(times(m, term("first")), over)
	if !laplace {
		return m, d1
	}
	d2 := times(times(d1, term("second")), over)
	d3 := times(times(d2, term("third")), over)
	d4 := times(times(d3, term("fourth")), over)
	return laplacian(term, m, u, a[0], a[1], [5]VecVirtual{1: d1, d2, d3, d4})
}

// addNode adds a node's part to the sums: the profile's and, by the slope, those of its
// derivatives; d is the way from the middle, a the same by the matrix of shape.
func addNode(term func(string) VecVirtual, sums Mem, weight, v, slope VecVirtual, d, a [2]VecVirtual) {
	add := func(i int, x VecVirtual) {
		VADDPD(sums.Offset(32*i), x, x)
		VMOVUPD(x, sums.Offset(32*i))
	}
	add(0, times(v, weight))
	g := times(slope, weight)
	down := times(g, term("minusTwo"))
	add(1, times(a[0], down))
	add(2, times(a[1], down))
	add(3, times(times(g, d[0]), d[0]))
	add(4, times(times(times(g, term("two")), d[0]), d[1]))
	add(5, times(times(g, d[1]), d[1]))
}

func storeRows(term func(string) VecVirtual, kept Mem, table Register) {
	Comment("By x, y, amplitude and floor.")
	sum := func(i int) VecVirtual {
		x := YMM()
		VMOVUPD(kept.Offset(sums+32*i), x)
		return x
	}
	height := term("amplitude")
	storeTurned(table, 0, [4]VecVirtual{times(height, sum(1)), times(height, sum(2)), sum(0), term("one")})
	Comment("By the three of shape, and the residual.")
	height, value := term("amplitude"), YMM()
	VMOVUPD(kept.Offset(keptValue), value)
	left := minus(minus(value, term("floor")), times(height, sum(0)))
	storeTurned(table, 32, [4]VecVirtual{times(height, sum(3)), times(height, sum(4)), times(height, sum(5)), left})
}

// laplacian is the mean over a pixel and the slope that goes with it, from the profile
// and its first four derivatives by u.
func laplacian(term func(string) VecVirtual, m, u, ax, ay VecVirtual, d [5]VecVirtual) (v, slope VecVirtual) {
	gradient := plus(times(ax, ax), times(ay, ay))
	second := times(plus(times(d[1], term("trace")), times(times(d[2], term("four")), gradient)), term("part"))
	inner := plus(times(d[3], term("four")), times(u, d[4]))
	fourth := times(plus(times(d[2], term("two")), times(u, inner)), term("biharmonic"))
	v = plus(m, plus(second, fourth))
	return v, plus(d[1], times(times(d[2], term("trace")), term("part")))
}

// radialAt looks the profile up at u; what lies outside its table is marked.
func radialAt(u, one VecVirtual, radial Register, outside VecVirtual) VecVirtual {
	x := plus(u, one)
	piece, t, far := YMM(), YMM(), YMM()
	VPSRLQ(Imm(52-pieceBits), x, piece)
	VPSLLQ(Imm(52-pieceBits), piece, t)
	VSUBPD(t, x, t)
	VMOVUPD(lastPiece, far)
	VPCMPGTQ(far, piece, far)
	VPOR(far, outside, outside)
	VBLENDVPD(far, firstPiece, piece, piece)
	VPSLLQ(Imm(2), piece, piece)
	Comment("The four cubics.")
	var at [4]GPVirtual
	low, high := piece.AsX(), XMM()
	VEXTRACTI128(Imm(1), piece, high)
	for i := range at {
		at[i] = GP64()
		VPEXTRQ(Imm(uint64(i%2)), []Op{low, high}[i/2], at[i])
	}
	c := turned(func(i int) Op {
		return Mem{Base: radial, Index: at[i], Scale: 8, Disp: -(1023 << pieceBits) * 32}
	})
	return plus(c[0], times(t, plus(c[1], times(t, plus(c[2], times(t, c[3]))))))
}

// turned loads four rows of four numbers and gives their columns.
func turned(row func(i int) Op) (column [4]VecVirtual) {
	var rows [4]VecVirtual
	for i := range rows {
		rows[i] = YMM()
		VMOVUPD(row(i), rows[i])
	}
	return turn(rows)
}

// turn makes columns of rows.
func turn(rows [4]VecVirtual) (column [4]VecVirtual) {
	var pairs [4]VecVirtual
	for i := range pairs {
		pairs[i] = YMM()
	}
	VUNPCKLPD(rows[1], rows[0], pairs[0])
	VUNPCKHPD(rows[1], rows[0], pairs[1])
	VUNPCKLPD(rows[3], rows[2], pairs[2])
	VUNPCKHPD(rows[3], rows[2], pairs[3])
	for i := range column {
		column[i] = YMM()
		VPERM2F128(Imm([]uint64{0x20, 0x31}[i/2]), pairs[2+i%2], pairs[i%2], column[i])
	}
	return column
}

// storeTurned writes four columns as rows of eight numbers, from so many bytes on.
func storeTurned(table Register, from int, columns [4]VecVirtual) {
	for i, row := range turn(columns) {
		VMOVUPD(row, Mem{Base: table, Disp: 64*i + from})
	}
}

// broadcast puts a number into four lanes.
func broadcast(m Mem) VecVirtual {
	x := YMM()
	VBROADCASTSD(m, x)
	return x
}

func plus(a, b VecVirtual) VecVirtual  { return arithmetic(VADDPD, a, b) }
func minus(a, b VecVirtual) VecVirtual { return arithmetic(VSUBPD, a, b) }
func times(a, b VecVirtual) VecVirtual { return arithmetic(VMULPD, a, b) }

func arithmetic(instruction func(...Op), a, b VecVirtual) VecVirtual {
	x := YMM()
	instruction(b, a, x)
	return x
}
