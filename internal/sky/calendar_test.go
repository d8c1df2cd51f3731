package sky

import (
	"testing"
	"time"
)

func TestNightDate(t *testing.T) {
	for _, c := range []struct {
		lon      float64
		at, want string
	}{
		{0, "2024-03-20T23:00:00", "2024-03-20"},
		{0, "2024-03-21T03:00:00", "2024-03-20"},
		{0, "2024-03-21T11:59:59", "2024-03-20"},
		{0, "2024-03-21T12:00:00", "2024-03-21"},
		{-150, "2024-03-21T06:00:00", "2024-03-20"},   // 20:00 local of the 20th
		{-150, "2024-03-21T21:00:00", "2024-03-20"},   // 11:00
		{-150, "2024-03-21T22:00:00", "2024-03-21"},   // noon
		{150, "2024-03-20T09:00:00", "2024-03-20"},    // 19:00
		{150, "2024-03-20T20:00:00", "2024-03-20"},    // 06:00 of the 21st
		{150, "2024-03-20T02:00:00", "2024-03-20"},    // noon
		{150, "2024-03-20T01:59:00", "2024-03-19"},    // just before
		{179.9, "2024-03-20T08:00:00", "2024-03-20"},  // 20:00
		{-179.9, "2024-03-20T08:00:00", "2024-03-19"}, // 20:00 of the 19th
		{210, "2024-03-21T06:00:00", "2024-03-20"},    // -150 written as 210
	} {
		site := &Site{Lat: 40, Lon: c.lon}
		if got := NightDate(utc(t, c.at), site); got != c.want {
			t.Errorf("lon %v, %s: night of %s, want %s", c.lon, c.at, got, c.want)
		}
	}
	if NightDate(time.Time{}, greenwich) != "" {
		t.Error("an unknown time has no night")
	}
}

// Without a site the split must fall into the day of whoever was at work: no
// night is cut in two, whatever the longitude.
func TestCalendarWithoutSite(t *testing.T) {
	for zone := -11; zone <= 12; zone++ {
		var times []time.Time
		for night := range 3 {
			for h := range 10 { // 20:00 to 05:00 local
				times = append(times, time.Date(2024, 9, 5+night, 20+h-zone, 0, 0, 0, time.UTC))
			}
		}
		c := NewCalendar(nil, times)
		count := map[string]int{}
		for _, at := range times {
			count[c.Date(at)]++
		}
		if len(count) != 3 || count["2024-09-05"] != 10 || count["2024-09-06"] != 10 || count["2024-09-07"] != 10 {
			t.Errorf("zone %+d: %v", zone, count)
		}
	}
	if got := NewCalendar(nil, nil).Date(utc(t, "2024-03-21T03:00:00")); got != "2024-03-20" {
		t.Errorf("no site, no times: %s", got)
	}
}
