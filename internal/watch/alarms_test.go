package watch

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

var evening = time.Date(2025, 10, 21, 3, 0, 0, 0, time.UTC)

// oneSub is a night of one good sub, changed.
func oneSub(change func(*night.Seen, *night.Moment)) *night.Moment {
	m := &night.Moment{Seen: []night.Seen{{SkyShare: math.NaN(), Path: "lights/a.fits", Sub: &subs.Sub{
		Start: evening, Exposure: 60, Camera: "Lumen", Target: "Heron Nebula", Filter: "L", SensorTemp: -10, SetTemp: -10,
		Verdict: subs.Keep, Field: &stars.Field{Count: 200, FWHM: stats.Known(3, 0.1, 100), Double: stars.Double{Share: stats.Known(0, 0.01, 50)}},
	}}}}
	m.Seen[0].Sky.SunAlt = stats.Missing("no site")
	change(&m.Seen[0], m)
	return m
}

func culled(c subs.Cause) func(*night.Seen, *night.Moment) {
	return func(s *night.Seen, _ *night.Moment) {
		s.Verdict, s.Causes, s.Findings = subs.Cull, []subs.Cause{c}, because("so much; limit less")
	}
}

// because is a finding in these words.
func because(words string) []subs.Finding {
	return []subs.Finding{{Facts: []fact.Fact{fact.Of(subs.ReadFailed, fact.Text("error", words))}}}
}

func TestAlarmsOfOneSub(t *testing.T) {
	cases := []struct {
		name   string
		change func(*night.Seen, *night.Moment)
		want   Kind   // "" for none
		what   string // part of its fact
	}{
		{"good", func(*night.Seen, *night.Moment) {}, "", ""},
		{"drift that goes on", func(s *night.Seen, m *night.Moment) {
			m.FocusDrifts = []subs.FocusDrift{{Camera: s.Camera, Since: evening.Add(-time.Hour), Until: s.Start, Widened: 1.14}}
		}, Focus, "since=02:00 UTC, wider_pct=13.99"},
		{"drift that is over", func(s *night.Seen, m *night.Moment) {
			m.FocusDrifts = []subs.FocusDrift{{Camera: s.Camera, Until: s.Start.Add(-time.Minute), Widened: 1.3}}
		}, "", ""},
		{"drift of another camera", func(s *night.Seen, m *night.Moment) {
			m.FocusDrifts = []subs.FocusDrift{{Camera: "Umbra", Until: s.Start, Widened: 1.3}}
		}, "", ""},
		{"drift by a trailed sub", func(s *night.Seen, m *night.Moment) {
			m.FocusDrifts = []subs.FocusDrift{{Camera: s.Camera, Until: s.Start, Widened: 1.3}}
			s.Causes = []subs.Cause{subs.Trailed}
		}, "", ""},
		{"soft", culled(subs.Soft), Focus, "stars_soft"},
		{"cloud", culled(subs.Cloud), Cloud, "cloud_or_haze"},
		{"haze", culled(subs.Haze), Cloud, "cloud_or_haze"},
		{"no stars", culled(subs.NoStars), Cloud, "cloud_or_haze"},
		{"no values", func(s *night.Seen, m *night.Moment) {
			culled(subs.NoStars)(s, m)
			s.Findings[0].Facts = append(s.Findings[0].Facts, fact.Of(subs.Blank))
		}, "", ""},
		{"dew", culled(subs.Dewed), Dew, "dew_now"},
		{"obstructed", culled(subs.Obstructed), Obstructed, "field_obstructed"},
		{"trailed", culled(subs.Trailed), Trailing, "stars_trailed"},
		{"doubled", func(s *night.Seen, m *night.Moment) {
			culled(subs.Trailed)(s, m)
			s.Field.Double.Share = stats.Known(0.3, 0.01, 50)
		}, Doubled, "stars_doubled"},
		{"twilight", culled(subs.Twilight), Sky, "sky_too_bright"},
		{"dusk before there is a dark sub", func(s *night.Seen, _ *night.Moment) { s.Sky.SunAlt = stats.Known(-11, 0, 1) }, Sky, "sun_deg=-11"},
		{"astronomical dusk", func(s *night.Seen, _ *night.Moment) { s.Sky.SunAlt = stats.Known(-16, 0, 1) }, "", ""},
		{"dusk that dark subs do not show", func(s *night.Seen, _ *night.Moment) { s.Sky.SunAlt, s.Baseline.Clear = stats.Known(-11, 0, 1), 6 }, "", ""},
		{"no site", func(s *night.Seen, _ *night.Moment) { s.Sky.SunAlt = stats.Missing("no site") }, "", ""},
		{"wrong settings", culled(subs.WrongSettings), "", ""},
		{"sky at 49 %", func(s *night.Seen, _ *night.Moment) { s.SkyShare = 0.49 }, "", ""},
		{"sky at 51 %", func(s *night.Seen, _ *night.Moment) { s.SkyShare = 0.51 }, Saturation, "range_pct=51"},
		{"a quarter of the stars", func(s *night.Seen, _ *night.Moment) { s.Field.Saturated = 50 }, "", ""},
		{"more than that", func(s *night.Seen, _ *night.Moment) { s.Field.Saturated = 51 }, Saturation, "saturated=51, stars=200"},
		{"few stars, all saturated", func(s *night.Seen, _ *night.Moment) { s.Field.Count, s.Field.Saturated = 10, 10 }, "", ""},
		{"as warm as is borne", func(s *night.Seen, _ *night.Moment) { s.SensorTemp = -8 }, "", ""},
		{"warm", func(s *night.Seen, _ *night.Moment) { s.SensorTemp = -7.9 }, Sensor, "sensor_c=-7.9, off_c=2.09"},
		{"no set point", func(s *night.Seen, _ *night.Moment) { s.SensorTemp, s.SetTemp = 20, math.NaN() }, "", ""},
		{"not measured", func(s *night.Seen, _ *night.Moment) {
			s.Field, s.Verdict, s.Causes = nil, subs.Cull, []subs.Cause{subs.Truncated}
		}, "", ""},
	}
	for _, c := range cases {
		got := alertsOf(oneSub(c.change), subs.DefaultLimits)
		switch {
		case c.want == "" && len(got) > 0:
			t.Errorf("%s: %v", c.name, got)
		case c.want != "" && (len(got) != 1 || got[0].Kind != c.want || !strings.Contains(got[0].What.String(), c.what) || byVerdict(got[0].What.Code) != (got[0].Why != nil) || got[0].File != "lights/a.fits"):
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

// The first sub through a filter is held against those before through others.
func TestFilterThatBeginsSoft(t *testing.T) {
	for _, c := range []struct {
		before int
		fwhm   float64
		own    float64 // baseline of its own filter
		want   int
	}{{3, 4.3, math.NaN(), 1}, {3, 4.1, math.NaN(), 0}, {2, 6, math.NaN(), 0}, {5, 4.3, 4.2, 0}} {
		m := oneSub(func(s *night.Seen, m *night.Moment) {
			s.Field.FWHM, s.Filter, s.Baseline.FWHM = stats.Known(c.fwhm, 0.1, 100), "Ha", c.own
		})
		last := m.Seen[0]
		m.Seen = nil
		for range c.before {
			m.Seen = append(m.Seen, oneSub(func(*night.Seen, *night.Moment) {}).Seen[0])
		}
		m.Seen = append(m.Seen, last)
		if got := alertsOf(m, subs.DefaultLimits); len(got) != c.want || c.want > 0 && (got[0].Kind != Focus || !strings.HasPrefix(got[0].What.String(), "filter_begins_soft(wider_pct=43.3")) {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// A trouble is told once, and again only after it was over for three subs.
func TestAlarmsAreToldOnce(t *testing.T) {
	var a alarms
	cloud := []Alert{{Kind: Cloud}}
	told := ""
	for _, now := range [][]Alert{cloud, cloud, nil, nil, cloud, nil, nil, nil, cloud, {{Kind: Cloud}, {Kind: Focus}}} {
		for _, f := range a.ofSub(now) {
			told += string(f.Kind) + " "
		}
		told += "| "
	}
	if want := "cloud | | | | | | | | cloud | focus | "; told != want {
		t.Errorf("%q, want %q", told, want)
	}
	var b alarms
	idle := []Alert{{Kind: Idle}}
	if n := len(b.ofTime(idle)) + len(b.ofTime(idle)) + len(b.ofTime(nil)) + len(b.ofTime(idle)); n != 2 {
		t.Errorf("%d alarms of time, want 2", n)
	}
}

func TestAlarmsOfTimeAndRoom(t *testing.T) {
	const minute, gib = time.Minute, int64(1) << 30
	dawn := evening.Add(2 * time.Hour)
	none := time.Time{}
	cases := []struct {
		name string
		got  []Alert
		want Kind
	}{
		{"three exposures", waiting(15*minute, 5*minute, none, evening), ""},
		{"more than that", waiting(15*minute+1, 5*minute, none, evening), Idle},
		{"a flip between short exposures", waiting(6*minute, minute/2, none, evening), ""},
		{"after dawn", waiting(2*time.Hour, 5*minute, dawn, dawn.Add(minute)), ""},
		{"exposure unknown", waiting(2*time.Hour, 0, none, evening), ""},
		{"long before dawn", beforeDawn(dawn, dawn.Add(-26*minute), 5*minute, night.LocalTime{}), ""},
		{"before dawn", beforeDawn(dawn, dawn.Add(-25*minute), 5*minute, night.LocalTime{}), Twilight},
		{"past it", beforeDawn(dawn, dawn.Add(minute), 5*minute, night.LocalTime{}), ""},
		{"no darkness, or no site", beforeDawn(none, evening, 5*minute, night.LocalTime{}), ""},
		{"room", roomFor(gib, 50<<20>>1), ""},
		{"1 GiB", roomFor(gib-1, 1<<20), Disk},
		{"29 large frames", roomFor(29*(100<<20), 100<<20), Disk},
		{"room unknown", roomFor(-1, 1<<20), ""},
	}
	for _, c := range cases {
		if kinds := kindsOf(c.got); c.want == "" && len(kinds) > 0 || c.want != "" && !slices.Equal(kinds, []Kind{c.want}) {
			t.Errorf("%s: %v", c.name, c.got)
		}
	}
	if what := beforeDawn(dawn, dawn.Add(-20*minute), 5*minute, night.LocalTime{Ahead: -2 * time.Hour, Known: true})[0].What.String(); what != "twilight_nears(dawn=03:00, left_min=20, exposures=4)" {
		t.Error(what)
	}
	if what := roomFor(100<<20, 20<<20)[0].What.String(); what != "disk_nearly_full_for_frames(free_mib=100, frames=5)" {
		t.Error(what)
	}
}

func kindsOf(list []Alert) (kinds []Kind) {
	for _, a := range list {
		kinds = append(kinds, a.Kind)
	}
	return kinds
}

// The night's clock goes by the subs, so that frames which a folder brings late, or
// a computer with a wrong clock, make no alarm.
func TestTheNightsOwnClock(t *testing.T) {
	m := oneSub(func(*night.Seen, *night.Moment) {})
	var c clock
	now := evening.AddDate(1, 0, 0) // by the computer
	if c.alarms(now) != nil {
		t.Error("an alarm before any sub")
	}
	c.heard(now)
	if !c.seen(m, now) {
		t.Error("the first sub is not new")
	}
	if got := c.alarms(now.Add(6 * time.Minute)); got != nil {
		t.Errorf("%v", got)
	}
	if got := kindsOf(c.alarms(now.Add(6*time.Minute + time.Second))); !slices.Equal(got, []Kind{Idle}) {
		t.Errorf("%v", got)
	}
	c.heard(now.Add(7 * time.Minute)) // a dark
	if got := c.alarms(now.Add(8 * time.Minute)); got != nil {
		t.Errorf("%v", got)
	}
	m.Seen[0].Start = evening.Add(-time.Hour)
	if c.seen(m, now) {
		t.Error("an older sub is the latest")
	}
}
