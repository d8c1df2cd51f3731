// Package stats holds robust statistics, histograms, stack accumulators, a
// mesh background and fits. It knows nothing of FITS and nothing of astronomy:
// it works on slices of numbers and on rectangular grids of them.
//
// Conventions, unless a function says otherwise: standard deviations are 1
// sigma; variances are population variances (divided by n); an even number of
// values has the mean of the middle two as its median; quantiles interpolate
// linearly between order statistics (type 7 of Hyndman and Fan 1996, The
// American Statistician 50, 361). No function changes its input unless its name
// ends in InPlace.
//
// NaN means "not there", everywhere in this module: a number that a header does not
// tell, a pixel or cell of a grid that is masked, a figure that could not be
// measured. Grids (Map, Mesh, rows of pixels) may hold it, and their functions leave
// it out. Lists of numbers must not: who fills one leaves out what is not there,
// because an order with NaN in it is none, and a mean of it is lost. What no values
// tell is NaN, and a Value says why. Comparisons are written so that NaN claims
// nothing: !(x <= limit) where what is not known counts as beyond it, x > limit where
// it does not.
package stats
