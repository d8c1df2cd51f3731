package sky

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// shots is a night of 300 s subs every 310 s whose headers are ahead of UTC.
func shots(start time.Time, n int, ahead time.Duration) []Shot {
	var list []Shot
	for i := range n {
		list = append(list, Shot{
			Name: fmt.Sprintf("M 31/L_%d.fits", i+1), Camera: "C1", Exposure: 300, Stars: true, RA: 10.68, Dec: 41.27,
			Start: start.Add(time.Duration(i)*310*time.Second + ahead),
			Zone:  math.NaN(), Altitude: math.NaN(), HourAngle: math.NaN(), Sidereal: math.NaN(), Airmass: math.NaN(),
		})
	}
	return list
}

// findings is what is told of shots at a site whose longitude's sign is settled.
func findings(list []Shot, site *Site) []string {
	var all []string
	for _, f := range ReadClock(list, site, true).Findings {
		all = append(all, fmt.Sprint(f))
	}
	return all
}

func expect(t *testing.T, what string, got []string, want ...string) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d findings, want %d: %q", what, len(got), len(want), got)
	}
	for i := range want {
		if !strings.Contains(got[i], want[i]) {
			t.Errorf("%s: %q does not say %q", what, got[i], want[i])
		}
	}
}

func TestClockTruth(t *testing.T) {
	// Greenwich, 20 August: dark from about 21:00 to 03:10 UTC.
	evening := utc(t, "2024-08-20T20:30:00")
	expect(t, "true times", findings(shots(evening, 60, 0), greenwich))
	expect(t, "no site", findings(shots(evening, 60, 9*time.Hour), nil))
	expect(t, "no subs", findings(nil, greenwich))
	untimed := shots(evening, 3, 0)
	for i := range untimed {
		untimed[i].Start = time.Time{}
	}
	expect(t, "no times", findings(untimed, greenwich))
}

// A right ascension without a unit: hours where degrees cannot be, at the place and by the
// clock that the headers have; degrees where they can.
func TestRightAscensionInHours(t *testing.T) {
	site := &Site{Lat: 48, Lon: 11.5}
	for _, c := range []struct {
		name    string
		ra, dec float64 // as the header has them
		bare    bool
		hours   bool
	}{
		{"hours", 83.8 / 15, -5.4, true, true},
		{"hours with a unit", 83.8, -5.4, false, false},
		{"degrees", 10.7, 41.3, true, false}, // high in the north-west
		{"degrees that set, with a unit", 350, -25, false, false},
	} {
		list := shots(utc(t, "2026-01-15T19:00:00"), 45, 0)
		for i := range list {
			list[i].RA, list[i].Dec, list[i].Bare = c.ra, c.dec, c.bare
		}
		got := ReadClock(list, site, false)
		if got.InHours != c.hours || c.hours && (got.OtherSign || got.Ahead != 0 || got.Impossible.Code != "") {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

// Local time written as UTC, for sites all round the Earth, nights as long as
// the darkness, so that only few offsets fit: the proposal must put all into darkness
// and be right to the hour where the night is fully used.
func TestLocalTimeWrittenAsUTC(t *testing.T) {
	for _, zone := range []float64{-8, -5, 2, 5.5, 10} {
		site := &Site{Lat: 50, Lon: zone * 15}
		night := NightOf(site, time.Date(2024, 6, 1, 18, 0, 0, 0, time.UTC))
		ahead := time.Duration(zone * float64(time.Hour))
		// From sunset -6° to sunrise -6° but for the part that rounding to half an hour needs.
		dark := night.below(site, AtCivil)
		n := int(dark.Hours() * 3600 / 310)
		list := shots(dark.Start.Add(time.Minute), n-1, ahead)
		for i := range list {
			list[i].Dec = 88 // never sets
		}
		got := findings(list, site)
		way := ZoneAheadHelps
		if zone < 0 {
			way = ZoneBehindHelps
		}
		expect(t, fmt.Sprint(zone), got, fmt.Sprintf("hint=%s, zone_h=%g,", way, math.Abs(zone)))
	}
}

// A target that had not risen betrays the clock in a winter night, when the Sun does not.
func TestTargetBelowHorizon(t *testing.T) {
	evening := utc(t, "2024-12-20T19:00:00")
	list := shots(evening, 20, 8*time.Hour)
	for i := range list {
		list[i].RA, list[i].Dec = 320, 0 // sets about 20:40
	}
	got := findings(list, greenwich)
	expect(t, "target", got, "target_below_at")
	if !strings.Contains(got[0], string(ZoneAheadHelps)) {
		t.Errorf("no offset proposed: %q", got[0])
	}
}

// No offset helps when stars were recorded through 23 hours.
func TestHopelessClock(t *testing.T) {
	expect(t, "hopeless", findings(shots(utc(t, "2024-08-20T12:00:00"), 270, 0), greenwich),
		string(NoZoneHelps))
}

func TestDaylightCaution(t *testing.T) {
	list := shots(utc(t, "2024-08-20T11:00:00"), 3, 0)
	for i := range list {
		list[i].Stars = false
	}
	expect(t, "daylight", findings(list, greenwich), "exposed_to_sun(subs=3)")
}

func TestClockJumps(t *testing.T) {
	list := shots(utc(t, "2024-08-20T21:00:00"), 20, 0)
	for i := 9; i < 20; i++ { // 9 before 10: numbers, not letters, give the order
		list[i].Start = list[i].Start.Add(-time.Hour)
	}
	got := findings(list, greenwich)
	expect(t, "jump", got, "clock_jumped(file=M 31/L_10.fits, before=M 31/L_9.fits, hours=0, minutes=55)", "exposures_overlap")

	// The same times through two cameras are no contradiction.
	two := shots(utc(t, "2024-08-20T21:00:00"), 10, 0)
	for _, s := range shots(utc(t, "2024-08-20T21:01:00"), 10, 0) {
		s.Camera, s.Name = "C2", "second/"+s.Name
		two = append(two, s)
	}
	expect(t, "two cameras", findings(two, greenwich))
	// The same exposure twice is a duplicate, not a clock.
	twice := shots(utc(t, "2024-08-20T21:00:00"), 3, 0)
	twice = append(twice, twice[0])
	twice[3].Name = "copy.fits"
	expect(t, "duplicate", findings(twice, greenwich))
}

func TestDateOfYesterday(t *testing.T) {
	list := shots(utc(t, "2024-08-20T23:30:00"), 12, 0)
	for i := range list {
		if list[i].Start.Day() == 21 {
			list[i].Start = list[i].Start.Add(-24 * time.Hour)
		}
	}
	expect(t, "yesterday", findings(list, greenwich), "date_kept(")
}
