package sky

import "time"

// Above is when, within a span, a target stands above an altitude in degrees;
// J2000 coordinates.
func Above(site *Site, within Span, raDeg, decDeg, altDeg float64) []Span {
	p := site.place()
	return within.where(func(t time.Time) bool {
		now := at(t)
		return p.see(now, now.fromJ2000(raDeg, decDeg)).alt > altDeg
	})
}
