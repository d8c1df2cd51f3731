package subs

import "math"

// Aim is what a stack is made for: it decides how soft and how trailed a sub may
// be. Light that is lost and sky that is gained are judged alike for all.
type Aim string

// The aims. Let an average of subs be judged by its signal to noise for faint
// extended light times the height of its stars' peaks to some power q. A sub of
// the usual noise whose peaks are p times the average's then gives more than it
// takes as long as q (p - 1) + 1/2 > 0, and p is the inverse square of its FWHM
// over the average's.
const (
	Depth   Aim = "depth"   // faint extended light is all that counts (q = 0): only what spoils a picture outright is culled
	Balance Aim = "balance" // small and faint alike (q = 1): peaks half as high, FWHM 1.41
	Detail  Aim = "detail"  // resolution above all (q = 2): peaks three quarters as high, FWHM 1.155
)

// aims are the power q, and the factors by which each aim changes what the limits
// allow above a FWHM ratio of 1, and in ellipticity. A trail of ellipticity e lowers
// the peak to 1 - e, and what it draws out weighs as much again.
var aims = map[Aim]struct{ peaks, wider, longer float64 }{
	Depth:   {0, 2.5, 1.5}, // to 2 and 0.45: light spread over four times the area
	Balance: {1, 1, 1},
	Detail:  {2, 0.4, 0.6}, // to 1.16 and 0.18
}

// aimed are the limits in force for their aim.
func (l Limits) aimed() Limits {
	a := aims[l.Aim]
	l.FWHMDoubtful, l.FWHMCull = 1+a.wider*(l.FWHMDoubtful-1), 1+a.wider*(l.FWHMCull-1)
	l.EllipticityDoubtful, l.EllipticityCull = a.longer*l.EllipticityDoubtful, a.longer*l.EllipticityCull
	return l
}

// against are the limits for subs of one baseline. What an average takes is told by its
// own peaks: where seeing scatters, they are lower than the sharpest quarter's, and
// subs are so much wider before they take more than they give. Not so where the width
// drifts or steps: that is a fault, which the sharp part of the night shows. For depth no
// peaks count, and what is four times as large as the sharpest quarter spoils any picture.
func (l Limits) against(b Baseline) Limits {
	q := aims[l.Aim].peaks
	if wider := averageWidth(b.widths, q) / b.FWHM; wider > 1 && q > 0 {
		l.FWHMCull *= 1 + (wider-1)*b.scattered
	}
	return l
}

// asGood is the share of the best average's value from which on one of fewer, sharper
// subs is preferred.
const asGood = 0.95

// averageWidth is the FWHM of a star whose peak is the mean of those in the best average
// for an aim of power q, of subs of the usual noise: the k sharpest for which √k times
// that mean to the power q is the most. Where the subs are sharp or soft and hardly
// between, adding one soft sub may take more than it gives though adding all gives as
// much: the sharper average stands if it is as good. In: sorted FWHM. NaN for none.
func averageWidth(widths []float64, q float64) float64 {
	peaks, best := 0.0, 0.0
	var mean, value []float64
	for i, w := range widths {
		peaks += 1 / (w * w)
		k := float64(i + 1)
		mean = append(mean, peaks/k)
		value = append(value, math.Sqrt(k)*math.Pow(peaks/k, q))
		best = math.Max(best, value[i])
	}
	for i, v := range value {
		if v >= asGood*best && (i+1 == len(value) || value[i+1] < v) {
			return 1 / math.Sqrt(mean[i])
		}
	}
	return math.NaN()
}
