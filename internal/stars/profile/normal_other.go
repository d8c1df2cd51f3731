//go:build !amd64

package profile

// normalProducts sums up, over the rows of a table, the products of every two
// columns i >= j times the pixel's weight.
func normalProducts(table []params, stamp []sample, out *[nParams]params) {
	normalProductsPlain(table, stamp, out)
}

// lay fills a table with the derivatives by each parameter at every pixel of a stamp
// and, last, the pixel's residual.
func (f *fitter) lay(table []params, stamp []sample, p *params) { f.layPlain(table, stamp, p) }
