package sky

import (
	"slices"
	"time"

	"fitsqa/internal/fact"
)

// Clock is what the sky makes of a night's times and site.
type Clock struct {
	Ahead      time.Duration // by which the times that are not settled are ahead of UTC: to be taken off
	OtherSign  bool          // the longitude counts the other way: to be turned
	InHours    bool          // right ascensions without a unit are hours
	Impossible fact.Fact     // why no figure may rest on times and site; no code when they can be true
	Disputed   []string      // shots whose headers claim another place of the target than their times, site and coordinates
	Findings   []fact.Fact   // what was found; what was assumed is named
}

// ReadClock holds the times and the longitude of a night's subs against the sky,
// the header's other claims, and the order of shooting.
//
// Stars that were recorded although the Sun was up or the target below the
// horizon betray a clock or a site. So do altitude, hour angle, sidereal time
// and airmass in the header when they are not those of its time, site and
// coordinates. Right ascensions without a unit that may be hours are tried as such first
// (in degrees one in fifteen would be under 24), then the other sign of the longitude (many
// observatories count west as positive), then the zone that a card gives, then
// every zone that clocks there have. What makes all shots possible and agrees with the
// header's claims is taken; a zone that nothing but darkness speaks for is not,
// since several do. Where claims fit no clock that can be, they and what is computed
// contradict each other. Times that are settled, by a zone or by UTC beside them, are
// not moved, nor is a longitude whose sign the header gives.
func ReadClock(shots []Shot, site *Site, signSettled bool) Clock {
	var timed []Shot
	for _, s := range shots {
		if !s.Start.IsZero() {
			timed = append(timed, s)
		}
	}
	var c Clock
	if site.Valid() {
		here := slices.DeleteFunc(slices.Clone(timed), func(s Shot) bool { return s.Elsewhere })
		c = readSky(here, *site, signSettled)
	}
	c.Findings = append(c.Findings, checkOrder(timed)...)
	c.Findings = append(c.Findings, checkOverlap(timed)...)
	return c
}

func readSky(shots []Shot, site Site, signSettled bool) (c Clock) {
	asWritten := assumption{site: site}
	base := asWritten.test(shots, starsEnd)
	defer func() {
		c.Findings = append(c.Findings, assumption{site, c.Ahead, c.OtherSign, c.InHours}.daylight(shots)...)
	}()
	if base.impossible == 0 && base.possible() {
		return c
	}
	few := sampled(shots)
	var best assumption
	var fit verdict
	found, elsewhere := false, false
	for _, a := range asWritten.others(few, signSettled) {
		v := a.test(few, AtCivil)
		if !v.possible() {
			continue
		}
		if !a.plain(few) && !(v.claimed() && a.near()) {
			elsewhere = elsewhere || v.claimed()
			continue
		}
		if !found || v.claimed() && v.misfit < fit.misfit-1e-9 {
			best, fit, found = a, v, true
		}
	}
	switch {
	case found && best.test(shots, AtCivil).possible():
		c.Ahead, c.OtherSign, c.InHours = best.ahead, best.otherSign, best.inHours
		c.Findings = append(c.Findings, best.taken(base, fit.claimed()))
	case base.impossible > 0 && base.impossible <= base.starry/10:
		c.Findings = append(c.Findings, fact.Of(FewImpossible, fact.Reason(base.claim())))
	case base.impossible > 0:
		c.Impossible = base.claim()
		c.Findings = append(c.Findings, fact.Of(TimesImpossible, append(asWritten.hint(few), fact.Reason(c.Impossible))...))
	case base.still():
		c.Findings = append(c.Findings, fact.Of(ClaimsDiffer, base.wrongClaims()...))
	case elsewhere:
		c.Impossible = fact.Of(ClaimsNotTrue, base.wrongClaims()...)
		c.Findings = append(c.Findings, fact.Of(ClaimsOfOtherClock, fact.Reason(c.Impossible)))
	default:
		c.Disputed = base.disputed
		c.Findings = append(c.Findings, fact.Of(ClaimsDispute, base.wrongClaims()...))
	}
	return c
}

// sampled are at most 60 of the shots, over all of the night.
func sampled(shots []Shot) []Shot {
	const most = 60
	if len(shots) <= most {
		return shots
	}
	var few []Shot
	for i := range most {
		few = append(few, shots[i*len(shots)/most])
	}
	return few
}
