//go:build !amd64

package profile

// normalProducts sums up, over the rows of a table, the products of every two
// columns i >= j times the pixel's weight.
func normalProducts(table []params, stamp []sample, out *[nParams]params) {
	normalProductsPlain(table, stamp, out)
}
