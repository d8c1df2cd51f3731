package sky

import (
	"math"
	"time"

	"fitsqa/internal/fact"
)

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
