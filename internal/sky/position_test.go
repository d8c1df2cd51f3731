package sky

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/soniakeys/meeus/v3/julian"
	"github.com/soniakeys/meeus/v3/moonillum"
	"github.com/soniakeys/meeus/v3/sidereal"
	"github.com/soniakeys/unit"
)

func utc(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02T15:04:05", s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6f, want %.6f ± %g", what, got, want, tol)
	}
}

// angleDiff is a - b in (-180, 180].
func angleDiff(a, b float64) float64 { return math.Remainder(a-b, 360) }

var (
	greenwich = &Site{Lat: 51.4779, Lon: 0, Elevation: 46}
	mountain  = &Site{Lat: 33.3561, Lon: -116.865, Elevation: 1706}
	south     = &Site{Lat: -33.8688, Lon: 151.2093}
	arctic    = &Site{Lat: 69.6492, Lon: 18.9553}
)

// azimuth from north through east: what a sighting's hour angle and declination make of it.
func azimuth(p place, s sighting) float64 {
	const deg = 180 / math.Pi
	sin, cos := math.Sincos(s.hourAngle / deg)
	return math.Atan2(sin, cos*p.sinLat-math.Tan(s.dec/deg)*p.cosLat)*deg + 180 // (13.5) p. 93, from the south there
}

// TestSunAndMoonAltitudes holds topocentric geometric altitudes and azimuths
// against astropy 5.2.1 with its built-in ephemeris (grade A: run for this
// project). 0.02° is what the low-precision Sun (0.01°), UT1 = UTC (0.004°)
// and the rounding leave; the Moon's parallax, up to 1°, would show at once.
func TestSunAndMoonAltitudes(t *testing.T) {
	for _, c := range []struct {
		site                           *Site
		at                             string
		sunAlt, sunAz, moonAlt, moonAz float64
		phase, lit, siderealHours      float64
	}{
		{greenwich, "2024-03-20T00:00:00", -38.5509, 357.6159, 41.5498, 256.2036, 57.630, .7677, 11.867912},
		{greenwich, "2024-06-21T12:00:00", 61.9554, 179.0622, -66.3200, 15.8389, 8.319, .9947, 6.011780},
		{greenwich, "2023-12-22T18:00:00", -18.3499, 255.1542, 44.0933, 129.4126, 51.916, .8084, .069020},
		{mountain, "2024-01-25T06:00:00", -59.7774, 290.6455, 66.1859, 103.8597, 7.407, .9958, 6.479299},
		{mountain, "2024-04-08T12:00:00", -17.9407, 67.8380, -17.0969, 71.2222, 176.280, .0011, 17.358253},
		{mountain, "2025-03-07T04:30:00", -34.0959, 288.3476, 60.5258, 269.5306, 83.523, .5564, 7.719091},
		{south, "2023-08-31T12:00:00", -53.3569, 233.1640, 48.2643, 61.9874, 7.051, .9962, 20.708002},
		{south, "2025-01-06T10:30:00", -14.5756, 229.5009, 30.7255, 301.2020, 97.160, .4377, 3.664549},
		{arctic, "2024-06-21T22:45:00", 3.0812, 359.7249, -8.9344, 180.9531, 5.042, .9981, 18.054900},
	} {
		now := at(utc(t, c.at))
		p := c.site.place()
		sun, moon := p.see(now, now.sun), p.see(now, now.moon)
		within(t, c.at+" Sun altitude", sun.alt, c.sunAlt, 0.02)
		within(t, c.at+" Moon altitude", moon.alt, c.moonAlt, 0.02)
		// An azimuth is as uncertain as the altitude over cos(altitude).
		within(t, c.at+" Sun azimuth", angleDiff(azimuth(p, sun), c.sunAz)*math.Cos(sun.alt*math.Pi/180), 0, 0.02)
		within(t, c.at+" Moon azimuth", angleDiff(azimuth(p, moon), c.moonAz)*math.Cos(moon.alt*math.Pi/180), 0, 0.02)
		within(t, c.at+" phase angle", now.phaseAngle, c.phase, 0.02)
		within(t, c.at+" lit fraction", now.moonLit, c.lit, 0.0003)
		// Sidereal time is mean there and apparent here (nutation, under 1.2 s),
		// and UT1 = UTC adds up to 0.9 s.
		lst := (now.sidereal.Deg() + c.site.Lon) / 15
		within(t, c.at+" sidereal time", math.Remainder(lst-c.siderealHours, 24), 0, 2.1/3600)

		cond := At(c.site, utc(t, c.at), math.NaN(), math.NaN())
		within(t, c.at+" At Sun", cond.SunAlt.V, c.sunAlt, 0.02)
		within(t, c.at+" At Moon", cond.MoonAlt.V, c.moonAlt, 0.02)
		within(t, c.at+" At lit", cond.MoonLitPct.V, 100*c.lit, 0.03)
		if cond.TargetAlt.OK() || cond.TargetAlt.Why.Code == "" {
			t.Errorf("target altitude without coordinates: %+v", cond.TargetAlt)
		}
	}
}

// TestTargets holds ICRS targets against astropy 5.2.1 (grade A). 0.02° with
// precession, as nutation and aberration (0.01°) are left out here.
func TestTargets(t *testing.T) {
	m31 := [2]float64{10.684708, 41.268750}
	m42 := [2]float64{83.822083, -5.391111}
	for _, c := range []struct {
		site          *Site
		at            string
		target        [2]float64
		alt, az, moon float64 // moon: topocentric separation, NaN when not tabulated
	}{
		{greenwich, "2024-03-20T00:00:00", m31, 3.5641, 350.2744, math.NaN()},
		{greenwich, "2023-12-22T18:00:00", m31, 77.8268, 141.9509, math.NaN()},
		{mountain, "2024-01-25T06:00:00", m42, 49.3358, 200.2086, 48.328},
		{mountain, "2025-03-07T04:30:00", m42, 41.0230, 223.8308, 33.832},
	} {
		now := at(utc(t, c.at))
		p := c.site.place()
		got := p.see(now, now.fromJ2000(c.target[0], c.target[1]))
		within(t, c.at+" altitude", got.alt, c.alt, 0.02)
		within(t, c.at+" azimuth", angleDiff(azimuth(p, got), c.az)*math.Cos(got.alt*math.Pi/180), 0, 0.02)
		cond := At(c.site, utc(t, c.at), c.target[0], c.target[1])
		within(t, c.at+" At altitude", cond.TargetAlt.V, c.alt, 0.02)
		if !math.IsNaN(c.moon) {
			within(t, c.at+" Moon distance", cond.MoonSeparation.V, c.moon, 0.03)
		}
	}
}

// Meeus example 12.a, p. 88 (grade A: as printed in the module's own tests):
// sidereal time at Greenwich, 1987 April 10, 0h UT.
func Example_siderealTime() {
	jd := julian.CalendarGregorianToJD(1987, 4, 10)
	fmt.Printf("%.4f\n", sidereal.Mean(jd).Hour()*3600)
	fmt.Printf("%.4f\n", sidereal.Apparent(jd).Hour()*3600)
	// Output:
	// 47446.3668
	// 47446.1351
}

// TestHorizontal is Meeus example 13.b, p. 95 (grade A): Venus over Washington. The
// book gives degrees to four digits and azimuth from the south.
func TestHorizontal(t *testing.T) {
	site := &Site{Lat: 38 + 55./60 + 17./3600, Lon: -(77 + 3./60 + 56./3600)}
	now := at(utc(t, "1987-04-10T19:21:00"))
	venus := body{
		ra:       unit.NewRA(23, 9, 16.641),
		dec:      unit.NewAngle('-', 6, 43, 11.61),
		distance: math.Inf(1), // the example leaves parallax out
	}
	p := site.place()
	got := p.see(now, venus)
	within(t, "hour angle", got.hourAngle, 64.3521, 0.0002) // last digit, and UT1 = UTC of that evening
	within(t, "azimuth", azimuth(p, got), 248.0337, 0.0002)
	within(t, "altitude", got.alt, 15.1249, 0.0002)
}

// TestSeparation is Meeus example 17.a, p. 110 (grade A): Arcturus and Spica.
func TestSeparation(t *testing.T) {
	deg := func(ra unit.RA, dec unit.Angle) sighting {
		return sighting{hourAngle: -ra.Deg(), dec: dec.Deg()}
	}
	arcturus := deg(unit.NewRA(14, 15, 39.7), unit.NewAngle(' ', 19, 10, 57))
	spica := deg(unit.NewRA(13, 25, 11.6), unit.NewAngle('-', 11, 9, 41))
	within(t, "separation", separation(arcturus, spica), 32.7930, 0.00005)
	within(t, "same place", separation(spica, spica), 0, 1e-12)
}

// TestSun is Meeus example 25.a, p. 165 (grade A): the low-precision Sun on 1992
// October 13, 0h TD, to the book's digits (0.1 s and 1").
func TestSun(t *testing.T) {
	sun := sunAt(2448908.5)
	within(t, "RA", sun.ra.Hour()*3600, 13*3600+13*60+31.4, 0.05)
	within(t, "Dec", sun.dec.Deg()*3600, -(7*3600 + 47*60 + 6), 0.5)
	within(t, "R", sun.distance/kmPerAU, 0.99766, 0.000005)
}

// TestMoon is Meeus example 47.a, p. 342 (grade A): the Moon on 1992 April 12,
// 0h TD, to the book's digits.
func TestMoon(t *testing.T) {
	moon := moonAt(2448724.5)
	within(t, "RA", moon.ra.Deg(), 134.688470, 0.000005)
	within(t, "Dec", moon.dec.Deg(), 13.768368, 0.000005)
	within(t, "distance", moon.distance, 368409.7, 0.05)
}

// Meeus example 48.a, p. 347 (grade A): phase angle and lit fraction of the Moon on 1992
// April 12, 0h TD.
func TestLitFraction(t *testing.T) {
	i := moonillum.PhaseAngleEq(unit.RAFromDeg(134.6885), unit.AngleFromDeg(13.7684), 368410,
		unit.RAFromDeg(20.6579), unit.AngleFromDeg(8.6964), 149971520)
	within(t, "phase angle", i.Deg(), 69.0756, 0.00005)
	// The same through the clock: 0h TD is 69.184 s (of today's TT - UTC) earlier.
	now := at(time.Date(1992, 4, 12, 0, 0, 0, 0, time.UTC).Add(-69184 * time.Millisecond))
	within(t, "phase angle at that time", now.phaseAngle, 69.0756, 0.002) // the low-precision Sun is good to 0.01°
	within(t, "lit fraction", now.moonLit, 0.6786, 0.0001)
}

// Without precession a J2000 target is 0.3° off: this is what the tolerance of
// TestTargets tells apart.
func TestPrecessionMatters(t *testing.T) {
	now := at(utc(t, "2024-03-20T00:00:00"))
	raw := body{unit.RAFromDeg(10.684708), unit.AngleFromDeg(41.268750), math.Inf(1)}
	of := now.fromJ2000(10.684708, 41.268750)
	p := greenwich.place()
	if d := separation(p.see(now, raw), p.see(now, of)); d < 0.2 || d > 0.45 {
		t.Errorf("24 years of precession move the target by %.3f°, want about 0.34°", d)
	}
}

func TestUnknowns(t *testing.T) {
	now := utc(t, "2024-03-20T00:00:00")
	for _, c := range []struct {
		name string
		cond Conditions
		lit  bool
	}{
		{"no site", At(nil, now, 10, 10), true},
		{"site never filled in", At(&Site{}, now, 10, 10), true},
		{"impossible site", At(&Site{Lat: 123, Lon: 5}, now, 10, 10), true},
		{"NaN site", At(&Site{Lat: math.NaN(), Lon: 5}, now, 10, 10), true},
		{"no time", At(greenwich, time.Time{}, 10, 10), false},
	} {
		if c.cond.SunAlt.OK() || c.cond.SunAlt.Why.Code == "" || c.cond.Airmass.OK() || c.cond.Airmass.Why.Code == "" {
			t.Errorf("%s: %+v", c.name, c.cond)
		}
		if c.cond.MoonLitPct.OK() != c.lit {
			t.Errorf("%s: lit fraction %+v", c.name, c.cond.MoonLitPct)
		}
	}
	down := At(greenwich, now, 10, -80)
	if !down.TargetAlt.OK() || down.Airmass.OK() || down.Airmass.Why.Code == "" {
		t.Errorf("target below the horizon: %+v", down)
	}
	noElevation := At(&Site{Lat: 51.4779, Lon: 0, Elevation: math.NaN()}, now, 10, 10)
	within(t, "unknown elevation", noElevation.MoonAlt.V, 41.5498, 0.02)
}

func BenchmarkAt(b *testing.B) {
	now := time.Date(2024, 3, 20, 0, 0, 0, 0, time.UTC)
	for b.Loop() {
		At(greenwich, now, 10.7, 41.3)
	}
}
