package sky

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// desert is an invented observatory in the west, where longitudes are often
// written as positive.
var desert = &Site{Lat: 32.4, Lon: -110.88, Elevation: 2000}

// claimed is a night of subs at a site with what its headers claim: kinds are
// letters, s for sidereal time, h hour angle, a altitude, x airmass.
func claimed(site *Site, start time.Time, n int, kinds string) []Shot {
	list := shots(start, n, 0)
	for i := range list {
		s := &list[i]
		s.RA, s.Dec = 85, 24
		c := At(site, s.middle(), s.RA, s.Dec)
		p := site.place()
		if strings.Contains(kinds, "s") {
			s.Sidereal = math.Mod((float64(at(s.Start).sidereal)+float64(p.lon))*180/math.Pi+720, 360)
		}
		if strings.Contains(kinds, "h") {
			s.HourAngle = c.HourAngle.V
		}
		if strings.Contains(kinds, "a") {
			s.Altitude = c.TargetAlt.V + 0.4 // an observatory's own model
		}
		if strings.Contains(kinds, "x") {
			s.Airmass = math.Round(c.Airmass.V*100) / 100
		}
	}
	return list
}

// The evening of 14 November at the desert: the target rises at 1 h UTC, twilight
// ends about 1 h and begins about 12 h UTC.
var desertEvening = time.Date(2024, 11, 15, 3, 0, 0, 0, time.UTC)

func TestWestPositiveLongitude(t *testing.T) {
	west := *desert
	west.Lon = -desert.Lon
	for kinds, settled := range map[string]bool{"": true, "sha": true, "x": false, "a": false} {
		list := claimed(desert, desertEvening, 90, kinds)
		for i := range list {
			list[i].Settled = settled
		}
		c := ReadClock(list, &west, false)
		if !c.OtherSign || c.Ahead != 0 || c.Impossible.Code != "" || len(c.Findings) != 1 || !strings.Contains(fmt.Sprint(c.Findings[0]), "taken_deg=-110.88") {
			t.Errorf("claims %q, settled %v: %+v", kinds, settled, c)
		}
	}
	// A sign that is told is not turned: the night is impossible and says so first.
	c := ReadClock(claimed(desert, desertEvening, 90, ""), &west, true)
	if c.OtherSign || c.Impossible.Code == "" {
		t.Errorf("a settled sign: %+v", c)
	}
}

func TestLocalClockIsReadByItsWitnesses(t *testing.T) {
	for _, tc := range []struct {
		kinds string
		zone  float64 // of the card; NaN for none
		site  *Site
		ahead float64 // h
	}{
		{"s", math.NaN(), desert, -7}, {"h", math.NaN(), desert, -7}, {"a", math.NaN(), desert, -7}, {"x", math.NaN(), desert, -7},
		{"", -7, desert, -7}, {"", 7, desert, -7}, // a card that counts west as positive
		{"sx", math.NaN(), &Site{Lat: 50, Lon: 10}, 2},
		{"sx", math.NaN(), &Site{Lat: 28, Lon: 84}, 5.75},
		{"a", math.NaN(), &Site{Lat: -31, Lon: 149}, 11},
	} {
		// The middle of the night by the target: it culminates about 8 h UTC at the desert.
		start := desertEvening.Add(-time.Duration((tc.site.Lon - desert.Lon) / 15 * float64(time.Hour)))
		list := claimed(tc.site, start.Add(3*time.Hour), 40, tc.kinds)
		ahead := time.Duration(tc.ahead * float64(time.Hour))
		for i := range list {
			list[i].Start, list[i].Zone = list[i].Start.Add(ahead), tc.zone
		}
		c := ReadClock(list, tc.site, true)
		if c.Ahead != ahead || c.OtherSign || c.Impossible.Code != "" {
			t.Errorf("claims %q at %v, zone %v: %+v, want %v ahead", tc.kinds, tc.site.Lon, tc.zone, c, ahead)
		}
	}
}

// Two hours off in the middle of a winter night are possible by the Sun: only the
// header's own claims tell.
func TestClockThatNothingForbids(t *testing.T) {
	site := &Site{Lat: 50, Lon: 10}
	evening := time.Date(2024, 12, 20, 20, 0, 0, 0, time.UTC)
	silent, telling := claimed(site, evening, 40, ""), claimed(site, evening, 40, "x")
	for i := range silent {
		silent[i].Start, telling[i].Start = silent[i].Start.Add(time.Hour), telling[i].Start.Add(time.Hour)
	}
	if c := ReadClock(silent, site, true); c.Ahead != 0 || len(c.Findings) > 0 {
		t.Errorf("nothing tells: %+v", c)
	}
	if c := ReadClock(telling, site, true); c.Ahead != time.Hour {
		t.Errorf("the airmass tells: %+v", c)
	}
}

// Claims that no clock and no sign explain are told, and move nothing.
func TestClaimsThatNothingExplains(t *testing.T) {
	list := claimed(desert, desertEvening, 40, "a")
	for i := range list {
		list[i].Altitude = 20
	}
	c := ReadClock(list, desert, false)
	if c.Ahead != 0 || c.OtherSign || c.Impossible.Code != "" || len(c.Disputed) > 0 || len(c.Findings) != 1 || c.Findings[0].Code != ClaimsDiffer {
		t.Errorf("an altitude that stands still: %+v", c)
	}
	for i := range list {
		list[i].Altitude = 20 + 30*math.Abs(math.Sin(float64(i)))
	}
	c = ReadClock(list, desert, false)
	if c.Ahead != 0 || c.OtherSign || c.Impossible.Code != "" || len(c.Disputed) < 30 || len(c.Findings) != 1 || c.Findings[0].Code != ClaimsDispute {
		t.Errorf("altitudes of nothing: %+v", c)
	}
}

// Claims that a clock would make true which nobody has at the site say that the clock is
// wrong: nothing may rest on it.
func TestClaimsOfAnotherClock(t *testing.T) {
	site := &Site{Lat: 50, Lon: 0}
	evening := time.Date(2024, 12, 20, 20, 0, 0, 0, time.UTC)
	list := claimed(site, evening, 40, "x")
	for i := range list {
		list[i].Start = list[i].Start.Add(3 * time.Hour)
	}
	c := ReadClock(list, site, true)
	if c.Ahead != 0 || c.Impossible.Code != ClaimsNotTrue || len(c.Findings) != 1 || c.Findings[0].Code != ClaimsOfOtherClock {
		t.Errorf("%+v", c)
	}
	for i := range list {
		list[i].Elsewhere = true
	}
	if c := ReadClock(list, site, true); c.Impossible.Code != "" || len(c.Findings) > 0 {
		t.Errorf("from elsewhere: %+v", c)
	}
}

// Times that a zone settles are not moved, whatever the claims say.
func TestSettledClockIsNotMoved(t *testing.T) {
	list := claimed(desert, desertEvening, 40, "a")
	for i := range list {
		list[i].Start, list[i].Settled = list[i].Start.Add(-7*time.Hour), true
	}
	if c := ReadClock(list, desert, true); c.Ahead != 0 {
		t.Errorf("%+v", c)
	}
}

// Subs of ten minutes' span, whose altitude some zone would always explain: it is
// none that clocks there have, or the altitudes do not tell.
func TestFewAltitudesProveNoZone(t *testing.T) {
	for off := 2.0; off < 24; off++ {
		list := claimed(desert, desertEvening.Add(4*time.Hour), 3, "")
		for i := range list {
			list[i].Altitude = At(desert, list[i].middle().Add(-time.Duration(off*float64(time.Hour))), 85, 24).TargetAlt.V
		}
		if c := ReadClock(list, desert, true); c.Ahead != 0 {
			t.Errorf("%v h: %+v", off, c)
		}
	}
}

// One odd sub in twelve does not withhold a night.
func TestOneOddSubWithholdsNothing(t *testing.T) {
	list := claimed(desert, desertEvening, 24, "")
	list[23].Start = list[23].Start.Add(10 * time.Hour)
	c := ReadClock(list, desert, true)
	if c.Impossible.Code != "" || c.Ahead != 0 || len(c.Findings) != 1 || !strings.Contains(fmt.Sprint(c.Findings[0]), "impossible=1, starry=24") {
		t.Errorf("%+v", c)
	}
}

// West-positive and a local clock at once: the other sign alone puts all into
// darkness, and the airmass tells that it is not all.
func TestSignAndClockAtOnce(t *testing.T) {
	site := &Site{Lat: 41, Lon: -38}
	list := claimed(site, time.Date(2025, 10, 21, 5, 50, 0, 0, time.UTC), 24, "x")
	for i := range list {
		list[i].Start = list[i].Start.Add(-3 * time.Hour)
	}
	west := *site
	west.Lon = 38
	if c := ReadClock(list, &west, false); !c.OtherSign || c.Ahead != -3*time.Hour || c.Impossible.Code != "" {
		t.Errorf("%+v", c)
	}
}
