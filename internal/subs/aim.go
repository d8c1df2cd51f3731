package subs

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

// aims are the factors by which each aim changes what the limits allow above a
// FWHM ratio of 1, and in ellipticity. A trail of ellipticity e lowers the peak
// to 1 - e, and what it draws out weighs as much again.
var aims = map[Aim]struct{ wider, longer float64 }{
	Depth:   {2.5, 1.5}, // to 2 and 0.45: light spread over four times the area
	Balance: {1, 1},
	Detail:  {0.4, 0.6}, // to 1.16 and 0.18
}

// aimed are the limits in force for their aim.
func (l Limits) aimed() Limits {
	a := aims[l.Aim]
	l.FWHMDoubtful, l.FWHMCull = 1+a.wider*(l.FWHMDoubtful-1), 1+a.wider*(l.FWHMCull-1)
	l.EllipticityDoubtful, l.EllipticityCull = a.longer*l.EllipticityDoubtful, a.longer*l.EllipticityCull
	return l
}
