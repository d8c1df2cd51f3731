package sky

import (
	"math"
	"testing"
	"time"
)

// TestTwilight holds the times when the Sun's centre passes each depth against
// root-finding with astropy 5.2.1 (E9.1, grade A). 30 s: the low-precision Sun's
// 0.01° is 4 s of sinking at this latitude, UT1 = UTC 0.9 s, and the depths are
// reached slowly.
func TestTwilight(t *testing.T) {
	for _, c := range []struct {
		site *Site
		noon string
		dusk [4]string
	}{
		{greenwich, "2024-03-20T12:30:00", [4]string{"2024-03-20T18:13:49", "2024-03-20T18:47:10", "2024-03-20T19:26:38", "2024-03-20T20:07:48"}},
		{mountain, "2024-01-25T06:00:00", [4]string{"2024-01-25T01:11:04", "2024-01-25T01:37:33", "2024-01-25T02:07:37", "2024-01-25T02:37:10"}},
	} {
		n := NightOf(c.site, utc(t, c.noon))
		for i, s := range []Span{n.Sun, n.below(c.site, AtCivil), n.Nautical, n.Astron} {
			within(t, c.noon, s.Start.Sub(utc(t, c.dusk[i])).Seconds(), 0, 30)
			if depth := c.site.place().sunAlt(s.End); !(math.Abs(depth-[]float64{AtSunset, AtCivil, AtNautical, AtAstronomical}[i]) <= 0.005) {
				t.Errorf("%s: dawn %v has the Sun at %.3f°", c.noon, s.End, depth)
			}
			if s.End.Before(s.Start) || s.End.After(n.End) || s.Start.Before(n.Start) {
				t.Errorf("%s: %v outside the night %v", c.noon, s, n)
			}
		}
	}
	if d := NightOf(mountain, utc(t, "2024-01-25T06:00:00")).Date; d != "2024-01-24" {
		t.Errorf("an evening west of Greenwich carries the local date: %s", d)
	}
}

// Nights without darkness and days without light, by the Sun's declination.
func TestShortAndLongNights(t *testing.T) {
	june := NightOf(arctic, utc(t, "2024-06-21T22:45:00"))
	if june.Sun != (Span{}) || june.Astron.Hours() != 0 {
		t.Errorf("midnight sun: %+v", june)
	}
	// 51.5° N at midsummer: the Sun passes 15.1° below the horizon at midnight.
	summer := NightOf(greenwich, utc(t, "2024-06-21T12:00:00"))
	if summer.Astron != (Span{}) || summer.Nautical.Hours() < 2 {
		t.Errorf("no astronomical darkness at midsummer: %+v", summer)
	}
	pole := NightOf(&Site{Lat: 89.9, Lon: 20}, utc(t, "2024-12-21T12:00:00"))
	if pole.Astron.Hours() != 24 || pole.Astron.Start != pole.Start {
		t.Errorf("polar night: %+v", pole.Astron)
	}
}

func TestSpan(t *testing.T) {
	from := utc(t, "2024-01-01T20:00:00")
	s := Span{from, from.Add(4 * time.Hour)}
	for _, c := range []struct{ a, b, want time.Duration }{
		{-2 * time.Hour, -time.Hour, 0},
		{-time.Hour, time.Hour, time.Hour},
		{time.Hour, 2 * time.Hour, time.Hour},
		{3 * time.Hour, 9 * time.Hour, time.Hour},
	} {
		if got := s.Overlap(from.Add(c.a), from.Add(c.b)); got != c.want {
			t.Errorf("overlap %v..%v: %v, want %v", c.a, c.b, got, c.want)
		}
	}
}

// A target crosses the meridian at hour angle 0 by definition; sidereal days are 3 min 56 s
// shorter than solar ones (grade A).
func TestTransit(t *testing.T) {
	near := utc(t, "2024-01-25T06:00:00")
	for _, ra := range []float64{0, 83.8, 200, 359.9} {
		at := Transit(mountain, near, ra, -5.4)
		if at.Sub(near).Abs() > 12*time.Hour+time.Minute {
			t.Errorf("RA %v: %v is not the nearest transit to %v", ra, at, near)
		}
		within(t, "hour angle", At(mountain, at, ra, -5.4).HourAngle.V, 0, 0.005) // a second of time
		next := Transit(mountain, at.Add(24*time.Hour), ra, -5.4)
		within(t, "sidereal day", next.Sub(at).Seconds(), 86164.1, 2) // both rounded to a second
	}
}

// Full Moon is up all night, new Moon is not (by definition of the phases).
func TestMoonlessHours(t *testing.T) {
	full := NightOf(mountain, utc(t, "2024-01-25T06:00:00")) // 99.6 % lit
	if h := MoonlessHours(mountain, full.Astron); h > 0.5 {
		t.Errorf("full Moon: %.1f moonless hours", h)
	}
	dark := NightOf(mountain, utc(t, "2024-04-08T06:00:00")) // 0.1 % lit
	if h := MoonlessHours(mountain, dark.Astron); !(math.Abs(h-dark.Astron.Hours()) <= 0.1) {
		t.Errorf("new Moon: %.1f moonless of %.1f hours", h, dark.Astron.Hours())
	}
}

// The hours of a night that the Moon rises in are those up to its rising, to the
// second: what is told of one night and planned of another is one number.
func TestHoursOutsideSpans(t *testing.T) {
	at := func(hour float64) time.Time {
		return time.Date(2024, 3, 20, 20, 0, 0, 0, time.UTC).Add(time.Duration(hour * float64(time.Hour)))
	}
	night := Span{at(0), at(8)}
	for want, parts := range map[float64][]Span{8: nil, 5.25: {{at(-1), at(0.75)}, {at(6), at(9)}}, 0: {{at(-1), at(9)}}} {
		within(t, "hours", night.Without(parts), want, 1e-9)
	}
	for day := range 28 {
		dark := NightOf(mountain, at(0).AddDate(0, 0, day)).Astron
		up := 0.0
		for _, s := range MoonUp(mountain, dark) {
			up += s.Hours()
		}
		within(t, "moonless", MoonlessHours(mountain, dark)+up, dark.Hours(), 1e-9)
	}
}

// Twilight ends when the night's own search says, which is held to a library
// (grade A), and Moon spans agree minute by minute with its altitude.
func TestTwilightAndMoonUp(t *testing.T) {
	night := NightOf(greenwich, utc(t, "2024-03-20T22:00:00"))
	got := Twilight(greenwich, Span{night.Start, night.End})
	if len(got) != 2 || got[0].Start != night.Start || got[1].End != night.End {
		t.Fatalf("twilight from noon to noon: %v", got)
	}
	within(t, "dusk", got[0].End.Sub(utc(t, "2024-03-20T20:07:48")).Seconds(), 0, 30)
	within(t, "dawn", got[1].Start.Sub(night.Astron.End).Seconds(), 0, 2)
	if inside := Twilight(greenwich, night.Astron); len(inside) > 0 && inside[0].Hours() > 2./3600 {
		t.Errorf("twilight in the dark hours: %v", inside)
	}
	up := MoonUp(greenwich, Span{night.Start, night.End})
	for at := night.Start; at.Before(night.End); at = at.Add(time.Minute) {
		is := At(greenwich, at, math.NaN(), math.NaN()).MoonAlt.V > 0
		said := false
		for _, s := range up {
			said = said || !at.Before(s.Start) && at.Before(s.End)
		}
		if is != said {
			t.Fatalf("%v: Moon up %v, said %v", at, is, said)
		}
	}
	if len(up) == 0 {
		t.Error("the Moon of a whole day never rises")
	}
	if got := MoonUp(greenwich, Span{night.Start, night.Start}); got != nil {
		t.Errorf("empty span: %v", got)
	}
}
