package profile

//go:generate go run ../../assembly -routines profile -out normal_amd64.s

import "golang.org/x/sys/cpu"

// lay fills a table with the derivatives by each parameter at every pixel of a stamp
// and, last, the pixel's residual.
func (f *fitter) lay(table []params, stamp []sample, p *params) {
	at := len(stamp) &^ 3
	if !f.layFast(table[:at], stamp[:at], p) {
		at = 0
	}
	f.layPlain(table[at:], stamp[at:], p)
}

// layFast is lay for whole fours of pixels; false where it cannot: for what is drawn
// along a line, and where a pixel lies beyond the table of the radial profile.
func (f *fitter) layFast(table []params, stamp []sample, p *params) bool {
	if !cpu.X86.HasAVX2 || f.trail || len(stamp) == 0 {
		return false
	}
	k, beta, trace := f.radial.k, f.radial.beta, 2*(p[4]+p[6])
	terms := rowTerms{x: p[0], y: p[1], amplitude: p[2], floor: p[3], cxx: p[4], cxy: p[5], cyy: p[6], k: k,
		derivative: [4]float64{-beta * k, -(beta + 1) * k, -(beta + 2) * k, -(beta + 3) * k},
		trace:      trace, biharmonic: biharmonic * trace * trace,
		one: 1, minusTwo: -2, two: 2, four: 4, part: 1. / 24}
	// Called by their names, so that terms need no memory of their own.
	if f.laplace {
		return laplacianRowsAVX2(&table[0][0], &stamp[0].x, len(stamp), &terms, &f.nodes[0], len(f.nodes), &f.radial.pieces[0][0])
	}
	return nodeRowsAVX2(&table[0][0], &stamp[0].x, len(stamp), &terms, &f.nodes[0], len(f.nodes), &f.radial.pieces[0][0])
}

// rowTerms is what all pixels have in common, in the order that the routines know.
type rowTerms struct {
	x, y, amplitude, floor, cxx, cxy, cyy, k float64
	derivative                               [4]float64 // of each, by u, over the one before
	trace, biharmonic                        float64
	one, minusTwo, two, four, part           float64
}

// What follows lays n rows, a multiple of four, and tells whether all lay inside the
// table of the radial profile.

//go:noescape
func laplacianRowsAVX2(table, stamp *float64, n int, terms *rowTerms, nodes *node, count int, pieces *float64) (inside bool)

//go:noescape
func nodeRowsAVX2(table, stamp *float64, n int, terms *rowTerms, nodes *node, count int, pieces *float64) (inside bool)

// normalProducts sums up, over the rows of a table, the products of every two
// columns i >= j times the pixel's weight.
func normalProducts(table []params, stamp []sample, out *[nParams]params) {
	if !cpu.X86.HasAVX2 || len(table) == 0 {
		normalProductsPlain(table, stamp, out)
		return
	}
	_ = stamp[len(table)-1]
	normalProductsAVX2(&table[0][0], &stamp[0].x, len(table), &out[0][0])
}

//go:noescape
func normalProductsAVX2(table, stamp *float64, n int, out *float64)
