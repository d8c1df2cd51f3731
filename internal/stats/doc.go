// Package stats holds robust statistics, histograms, stack accumulators, a
// mesh background and fits. It knows nothing of FITS and nothing of astronomy:
// it works on slices of numbers and on rectangular grids of them.
//
// Conventions, unless a function says otherwise: standard deviations are 1
// sigma; variances are population variances (divided by n); an even number of
// values has the mean of the middle two as its median; quantiles interpolate
// linearly between order statistics (type 7 of Hyndman and Fan 1996, The
// American Statistician 50, 361); NaN marks a masked value where a function
// says that it skips them, and must not occur elsewhere. No function changes
// its input unless its name ends in InPlace.
package stats
