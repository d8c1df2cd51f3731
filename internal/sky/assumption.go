package sky

import (
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
)

type assumption struct {
	site      Site
	ahead     time.Duration
	otherSign bool
	inHours   bool // right ascensions without a unit
}

func (a assumption) read(s Shot) Shot {
	if a.inHours && s.Bare {
		s.RA *= 15
	}
	return s
}

func (a assumption) place() place {
	site := a.site
	if a.otherSign {
		site.Lon = -site.Lon
	}
	return site.place()
}

func (a assumption) utc(s Shot, t time.Time) time.Time {
	if s.Settled {
		return t
	}
	return t.Add(-a.ahead)
}

// others are the assumptions to be tried, the likeliest first.
func (a assumption) others(shots []Shot, signSettled bool) []assumption {
	var zones []time.Duration
	if slices.ContainsFunc(shots, func(s Shot) bool { return !s.Settled }) {
		zones = append(cardZones(shots), allZones()...)
	}
	var list []assumption
	add := func(zone time.Duration, inHours bool) {
		list = append(list, assumption{a.site, zone, false, inHours})
		if !signSettled {
			list = append(list, assumption{a.site, zone, true, inHours})
		}
	}
	bare := slices.ContainsFunc(shots, func(s Shot) bool { return s.Bare }) &&
		!slices.ContainsFunc(shots, func(s Shot) bool { return !s.Bare && !math.IsNaN(s.RA) })
	if bare {
		add(0, true)
	}
	if !signSettled {
		list = append(list, assumption{a.site, 0, true, false})
	}
	for _, z := range zones {
		add(z, false)
		if bare {
			add(z, true)
		}
	}
	return slices.DeleteFunc(list, assumption.yesterday)
}

// near tells whether a zone is one that clocks at the site have: summer time, and
// countries that keep the time of a capital, are up to 2.5 h off the Sun's.
func (a assumption) near() bool {
	own := a.site.Lon / 15
	if a.otherSign {
		own = -own
	}
	return math.Abs(a.ahead.Hours()-own) <= 2.5
}

// yesterday tells that a zone is the same hour of another day: the sky is all but
// the same a day later, the site's own zone is not.
func (a assumption) yesterday() bool {
	own := a.site.Lon / 15
	if a.otherSign {
		own = -own
	}
	return a.ahead != 0 && math.Abs(a.ahead.Hours()-own) > 12
}

// cardZones are the zones that cards tell, counted either way.
func cardZones(shots []Shot) []time.Duration {
	var zones []time.Duration
	for _, s := range shots {
		if z := seconds(s.Zone * 3600); s.Zone != 0 && !math.IsNaN(s.Zone) && !slices.Contains(zones, z) {
			zones = append(zones, z, -z)
		}
	}
	return zones
}

// allZones are all whole and half hours, and the quarters that are in use.
func allZones() []time.Duration {
	var zones []time.Duration
	for half := -28; half <= 28; half++ {
		if half != 0 {
			zones = append(zones, time.Duration(half)*30*time.Minute)
		}
	}
	return append(zones, 345*time.Minute, 525*time.Minute, 765*time.Minute)
}

// plain tells whether an assumption needs no other witness than darkness: the
// other sign alone, or a zone that a card tells.
func (a assumption) plain(shots []Shot) bool {
	return a.ahead == 0 || slices.Contains(cardZones(shots), a.ahead)
}

// hint is the zone that the clock may have, when darkness alone tells.
func (a assumption) hint(shots []Shot) []fact.Value {
	best, found := time.Duration(0), false
	zone := a.site.Lon/15 + 0.5 // between standard and summer time
	off := func(o time.Duration) float64 { return math.Abs(o.Hours() - zone) }
	for _, b := range a.others(shots, true) {
		if v := b.test(shots, AtCivil); (!found || off(b.ahead) < off(best)) && v.possible() && v.impossible == 0 {
			best, found = b.ahead, true
		}
	}
	hint := NoZoneHelps
	switch {
	case found && best > 0:
		hint = ZoneAheadHelps
	case found:
		hint = ZoneBehindHelps
	}
	return []fact.Value{fact.Text("hint", string(hint)), fact.Number("zone_h", math.Abs(best.Hours()))}
}

func (a assumption) taken(base verdict, claimed bool) fact.Fact {
	var assumed []string
	var values []fact.Value
	if a.inHours {
		assumed = append(assumed, string(AscensionInHours))
	}
	if a.otherSign {
		assumed = append(assumed, string(LongitudeTurned))
		values = append(values, fact.Number("lon_deg", a.site.Lon), fact.Number("taken_deg", -a.site.Lon))
	}
	if a.ahead != 0 {
		code := ClockAhead
		if a.ahead < 0 {
			code = ClockBehind
		}
		assumed = append(assumed, string(code))
		values = append(values, fact.Number("zone_h", math.Abs(a.ahead.Hours())))
	}
	why, agree := ClaimsAsWritten, NoClaimsAgree
	if base.impossible > 0 {
		why = ImpossibleAsWritten
	}
	if claimed {
		agree = ClaimsAgree
	}
	values = append(values, fact.Text("assumed", strings.Join(assumed, " ")), fact.Text("why", string(why)), fact.Text("agree", string(agree)),
		fact.Count("impossible", base.impossible), fact.Count("starry", base.starry), fact.Detail("example", base.example))
	return fact.Of(ClockTaken, append(values, base.wrongClaims()...)...)
}

// daylight warns of subs that were exposed to the day's sky.
func (a assumption) daylight(shots []Shot) []fact.Fact {
	p := a.place()
	n := 0
	for _, s := range shots {
		now := sunlit(a.utc(s, s.middle()))
		if !s.Stars && p.see(now, now.sun).alt > AtSunset {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return []fact.Fact{fact.Of(ExposedToSun, fact.Count("subs", n))}
}

func (a assumption) test(shots []Shot, sunLimit float64) (v verdict) {
	p := a.place()
	v.lowest, v.highest, v.reach = 90, 0, [2]float64{90, -90}
	sum := 0.0
	for _, s := range shots {
		s = a.read(s)
		if s.Stars {
			v.starry++
			if why := p.impossible(s, a.utc(s, s.middle()), sunLimit); why.Code != "" {
				if v.impossible++; v.impossible == 1 {
					v.example = why
				}
			}
		}
		off, what := p.misfit(s, a.utc(s, s.Start), a.utc(s, s.end()))
		if what == "" {
			continue
		}
		if now := sunlit(a.utc(s, s.middle())); !math.IsNaN(s.RA) && !math.IsNaN(s.Dec) {
			alt := p.see(now, now.fromJ2000(s.RA, s.Dec)).alt
			v.reach = [2]float64{math.Min(v.reach[0], alt), math.Max(v.reach[1], alt)}
		}
		v.claims++
		sum += off
		v.angles = v.angles || !math.IsNaN(s.Sidereal) || !math.IsNaN(s.HourAngle)
		for _, alt := range []float64{s.Altitude, altitudeOf(s.Airmass)} {
			if !math.IsNaN(alt) {
				v.lowest, v.highest = math.Min(v.lowest, alt), math.Max(v.highest, alt)
			}
		}
		if off > claimTolerance {
			if v.wrong++; v.wrong == 1 {
				v.wrongExample = claim{s.Name, what, off}
			}
			v.disputed = append(v.disputed, s.Name)
		}
	}
	if v.claims > 0 {
		v.misfit = sum / float64(v.claims)
	}
	return v
}

// starsEnd is the Sun's altitude above which no sub shows stars enough to be
// measured (common practice, no source).
const starsEnd = -3.0
