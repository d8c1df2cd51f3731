package profile

//go:generate go run ../../assembly -routines normal -out normal_amd64.s

import "golang.org/x/sys/cpu"

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
