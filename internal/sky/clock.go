package sky

import (
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// Shot is what a sub tells about the clock that its header was written by.
// Numbers that the header lacks are NaN.
type Shot struct {
	Name     string // file name with its folder; its numbers give the order of shooting
	Camera   names.Name
	Start    time.Time // as in the header, taken for UTC; zero when unknown
	Settled  bool      // the header settles that Start is UTC
	Exposure float64   // s
	Stars    bool      // stars were found in it
	RA, Dec  float64   // degrees, J2000
	Bare     bool      // RA is a number without a unit that may be hours

	Elsewhere bool // from another site than the night's, or one that is not known

	// What the header claims of the target's place, by a clock of its own.
	Zone      float64 // h that the observer's clock is ahead of UTC; some count west as positive
	Altitude  float64 // degrees
	HourAngle float64 // degrees, west positive
	Sidereal  float64 // degrees, local
	Airmass   float64
}

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

func (s Shot) middle() time.Time {
	if s.Exposure > 0 {
		return s.Start.Add(seconds(s.Exposure / 2))
	}
	return s.Start
}

func (s Shot) end() time.Time {
	if s.Exposure > 0 {
		return s.Start.Add(seconds(s.Exposure))
	}
	return s.Start
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

// assumption is one way to read the times and the site.
type assumption struct {
	site      Site
	ahead     time.Duration
	otherSign bool
	inHours   bool // right ascensions without a unit
}

// read is a shot under the assumption, but for its times.
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

// utc is a time of a shot under the assumption.
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

// verdict is what speaks against an assumption.
type verdict struct {
	starry, impossible int // shots with stars, and those of them that cannot be
	example            fact.Fact
	claims, wrong      int     // headers that claim something of the target's place, and claim what is not so
	misfit             float64 // degrees, mean over the claims
	angles             bool    // hour angles or sidereal times are among them
	lowest, highest    float64 // degrees, of the altitudes among them
	wrongExample       claim   // the first of them
	disputed           []string
	reach              [2]float64 // lowest and highest altitude that the shots with claims had, degrees
}

// still tells that the claims stand still while the target moves: what does not follow it
// tells nothing of it, as an airmass that is 1 in every header.
func (v verdict) still() bool {
	return !v.angles && v.highest-v.lowest < 1 && v.reach[1]-v.reach[0] > claimTolerance
}

// claim is what a header says of the target's place, and how far off it is.
type claim struct {
	file, what string
	off        float64 // degrees
}

// wrongClaims are the values of how many headers claim what is not so, and of the
// first of them.
func (v verdict) wrongClaims() []fact.Value {
	c := v.wrongExample
	return []fact.Value{fact.Count("wrong", v.wrong), fact.Text("file", c.file), fact.Text("claim", c.what), fact.Number("off_deg", c.off)}
}

// possible tells that nothing speaks against it: a claim in five may be wrong, at
// the meridian flip or where a mount had not settled, and a shot in twenty odd.
func (v verdict) possible() bool { return v.impossible*20 <= v.starry && v.wrong*5 <= v.claims }

// claimed tells that there are claims enough to choose by, and that they agree:
// altitudes that hardly change would agree with some zone in any case.
func (v verdict) claimed() bool {
	return v.claims >= 3 && v.misfit < 1.2 && (v.angles || v.highest-v.lowest > 5)
}

func (v verdict) claim() fact.Fact {
	return fact.Of(TimesNotTrue, fact.Count("impossible", v.impossible), fact.Count("starry", v.starry), fact.Detail("example", v.example))
}

// starsEnd is the Sun's altitude above which no sub shows stars enough to be
// measured (common practice, no source).
const starsEnd = -3.0

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

// impossible tells why a shot with stars cannot have been taken at t; no code when it
// can. The Sun must be below sunLimit.
func (p place) impossible(s Shot, t time.Time, sunLimit float64) fact.Fact {
	now := sunlit(t)
	if sun := p.see(now, now.sun).alt; sun > sunLimit {
		return fact.Of(SunUp, fact.Text("time", t.Format("2006-01-02 15:04")), fact.Number("sun_deg", sun))
	}
	if !math.IsNaN(s.RA) && !math.IsNaN(s.Dec) {
		if alt := p.see(now, now.fromJ2000(s.RA, s.Dec)).alt; alt < -1 {
			return fact.Of(TargetBelow, fact.Text("time", t.Format("2006-01-02 15:04")), fact.Number("below_deg", -alt))
		}
	}
	return fact.Fact{}
}

// claimTolerance is how far off a header's claim may be, degrees: coordinates of
// date put a target 0.4° off, refraction up to 0.5°, a header that is written
// some minutes early or late a degree; half an hour of zone is 7.5°.
const claimTolerance = 2.5

// misfit is by how many degrees the worst claim of a header is off during the
// exposure, and which one that is; "" when it claims nothing.
func (p place) misfit(s Shot, start, end time.Time) (worst float64, what string) {
	a, b := sunlit(start), sunlit(end)
	take := func(name string, off float64) {
		if !math.IsNaN(off) && (what == "" || off > worst) {
			worst, what = off, name
		}
	}
	const deg = 180 / math.Pi
	take("sidereal time", between(s.Sidereal, (float64(a.sidereal)+float64(p.lon))*deg, (float64(b.sidereal)+float64(p.lon))*deg))
	if math.IsNaN(s.RA) || math.IsNaN(s.Dec) {
		return worst, what
	}
	from, to := p.see(a, a.fromJ2000(s.RA, s.Dec)), p.see(b, b.fromJ2000(s.RA, s.Dec))
	take("hour angle", between(s.HourAngle, from.hourAngle, to.hourAngle)*math.Cos(s.Dec*math.Pi/180))
	take("altitude", between(s.Altitude, from.alt, to.alt))
	if s.Airmass >= 1 { // written to a hundredth, near the zenith it leaves degrees open
		open := (altitudeOf(math.Max(1, s.Airmass-0.006)) - altitudeOf(s.Airmass+0.006)) / 2
		take("altitude by airmass", math.Max(0, between(altitudeOf(s.Airmass), from.alt, to.alt)-open))
	}
	return worst, what
}

// altitudeOf is where the air is so thick, degrees: a plane atmosphere down to
// 30°, which any formula agrees with to 0.2°, and then by halving.
func altitudeOf(airmass float64) float64 {
	if math.IsNaN(airmass) {
		return math.NaN()
	}
	lo, hi := 0.0, 90.0
	for range 30 {
		if mid := (lo + hi) / 2; Airmass(mid+lift(mid)) > airmass {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// between is by how many degrees x lies outside the way from a to b; NaN when x is.
func between(x, a, b float64) float64 {
	turn := func(d float64) float64 { return math.Remainder(d, 360) }
	way, at := turn(b-a), turn(x-a)
	if at*way >= 0 && math.Abs(at) <= math.Abs(way) {
		return 0
	}
	return math.Min(math.Abs(at), math.Abs(turn(x-b)))
}

// taken is what is assumed, and why.
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
