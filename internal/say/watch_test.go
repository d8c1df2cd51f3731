package say

import (
	"math"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/watch"
)

// readFailed is a finding in these words.
func readFailed(words string) []subs.Finding {
	return []subs.Finding{{Facts: []fact.Fact{fact.Of(subs.ReadFailed, fact.Text("error", words))}}}
}

func TestSentencesOfAlerts(t *testing.T) {
	sub := &subs.Sub{Verdict: subs.Cull, Findings: readFailed("so much; limit less")}
	hostile := &subs.Sub{Verdict: subs.Cull, Findings: readFailed("\x1b[2J")}
	for _, c := range []struct {
		what fact.Fact
		why  *subs.Sub
		want string
	}{
		{fact.Of(watch.StarsSoft), sub, "stars are soft, look at the focus: so much; limit less"},
		{fact.Of(watch.CloudOrHaze), hostile, `cloud or haze: \x1b[2J`},
		{fact.Of(watch.FocusLeaves, fact.Text("since", "02:00 UTC"), fact.Number("wider_pct", 14)), nil, "focus is leaving since 02:00 UTC, stars are 14 % wider: focus again"},
		{fact.Of(watch.OffSetPoint, fact.Number("sensor_c", -7.9), fact.Number("off_c", 2.1)), nil, "the sensor is at -7.9 °C, +2.1 °C off its set point"},
		{fact.Of(watch.TwilightNears, fact.Text("dawn", "03:00"), fact.Number("left_min", 20), fact.Count("exposures", 4)), nil, "twilight begins at 03:00, in 20 min: time for 4 more exposures"},
		{fact.Of(watch.TwilightNears, fact.Text("dawn", "03:00"), fact.Number("left_min", 7), fact.Count("exposures", 1)), nil, "twilight begins at 03:00, in 7 min: time for 1 more exposure"},
		{fact.Of(watch.DiskFullFor, fact.Number("free_mib", 100), fact.Count("frames", 5)), nil, "the disk is nearly full: 100 MiB are left, for 5 frames"},
	} {
		if got := Alert(watch.Alert{What: c.what, Why: c.why}); got != c.want {
			t.Errorf("%s\nwant %s", got, c.want)
		}
	}
}

func TestLineOfArrivedSub(t *testing.T) {
	local := night.LocalTime{Ahead: time.Hour, Known: true}
	s := night.Seen{SkyShare: math.NaN(), Path: "lights/a.fits", Number: 14, Sub: &subs.Sub{
		Start: time.Date(2025, 10, 21, 3, 0, 0, 0, time.UTC), Filter: "L", PixelScale: 1.13, Verdict: subs.Keep, Field: &stars.Field{Count: 200, FWHM: stats.Known(3, 0.1, 100)},
	}}
	s.Baseline.FWHM, s.Transparency.Ratio = 2.885, stats.Known(0.97, 0.01, 60)
	if got, want := Arrived(s, local), `04:00 L 014: FWHM 3.4" (+4 %), stars 200, transparency 0.97, keep`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	s.PixelScale, s.Baseline.FWHM, s.Transparency.Ratio, s.Filter = math.NaN(), math.NaN(), stats.Missing("no"), ""
	s.Verdict, s.Findings = subs.Cull, readFailed("far too wide; limit 2")
	if got, want := Arrived(s, night.LocalTime{}), `03:00 UTC no filter 014: FWHM 3.0 px, stars 200, cull: far too wide; limit 2`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	s.Field, s.File, s.ReadErr, s.Filter = nil, "a\x1b.fits", "cut short", "L\n"
	if got, want := Arrived(s, local), `04:00 L\n 014: a\x1b.fits, cull: cut short`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}
