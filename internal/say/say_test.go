package say

import (
	"math"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/night"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/tie"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

var evening = time.Date(2026, 3, 14, 21, 0, 0, 0, time.UTC)

// made is a sub of 300 s at a minute of the evening.
func made(minute int, verdict subs.Verdict, causes ...subs.Cause) *night.Sub {
	return &night.Sub{Sub: &subs.Sub{File: "lights/a.fits", Target: "T", Filter: "L", Start: evening.Add(time.Duration(minute) * time.Minute),
		Exposure: 300, Verdict: verdict, Causes: causes, PixelScale: 0.8, Weight: stats.Known(0.9, 0.01, 1),
		Transparency: tie.Transparency{Ratio: stats.Known(0.5, 0.01, 20)},
		Field:        &stars.Field{FWHM: stats.Known(4, 0.1, 50), Ellipticity: stats.Known(0.4, 0.01, 50), Angle: stats.Known(27, 1, 50)}}}
}

func of(all ...*night.Sub) *night.Result { return &night.Result{Subs: all} }

// Every trouble is told once, with a cost; costs add up to what was culled.
func TestTroublesAddUp(t *testing.T) {
	r := of(made(0, subs.Keep), made(5, subs.Cull, subs.Cloud), made(10, subs.Cull, subs.Cloud, subs.Soft), made(15, subs.Doubtful, subs.Cloud),
		made(20, subs.Cull, subs.Trailed), made(80, subs.Cull, subs.Trailed), made(90, subs.Doubtful, subs.Soft))
	a := Of(r, "out")
	if len(a.Trouble) != 3 {
		t.Fatalf("%d troubles", len(a.Trouble))
	}
	hours, culled := 0.0, 0
	for _, trouble := range a.Trouble {
		hours += trouble.CulledHours
		culled += trouble.Culled
	}
	if culled != 4 || math.Abs(hours-4*300./3600) > 1e-12 {
		t.Errorf("%d culled, %v h", culled, hours)
	}
	for i, want := range []string{
		"Cloud from 21:05 to 21:20 let through 50\u00a0% of the light. 2 culled (10\u00a0min), 1 doubtful.",
		"2\u00a0subs trailed, from 21:20 to 21:25 and from 22:20 to 22:25: ellipticity 0.40, all one way",
		"Soft stars from 22:30 to 22:35: FWHM up to 4.0\u00a0px (3.2″). 1 doubtful.",
	} {
		if !strings.Contains(a.Trouble[i].Sentence, want) {
			t.Errorf("%q does not say %q", a.Trouble[i].Sentence, want)
		}
	}
	if want := "4\u00a0subs to move aside: fitsqa cull --apply out "; !strings.HasPrefix(a.Morning[0], want) {
		t.Errorf("%q", a.Morning[0])
	}
}

// A night that one thing spoiled says so, one with a few such subs does not.
func TestPoorNight(t *testing.T) {
	var most, few []*night.Sub
	for i := range 10 {
		s := made(5*i, subs.Doubtful, subs.Haze)
		most = append(most, s)
		if i < 3 {
			few = append(few, s)
		} else {
			few = append(few, made(5*i, subs.Keep))
		}
	}
	if got := Of(of(most...), "").Poor; got != "A poor night: 10 of 10\u00a0subs are hazy" {
		t.Errorf("%q", got)
	}
	if got := Of(of(few...), "").Poor; got != "" {
		t.Errorf("three of ten: %q", got)
	}
}

// Over several nights times carry their date.
func TestDatesOverNights(t *testing.T) {
	one := Of(of(made(0, subs.Cull, subs.Cloud)), "").Trouble[0].Sentence
	if !strings.Contains(one, "from 21:00 to 21:05") {
		t.Errorf("%q", one)
	}
	two := Of(of(made(0, subs.Cull, subs.Cloud), made(24*60, subs.Keep)), "").Trouble[0].Sentence
	if !strings.Contains(two, "from 14 Mar 21:00 to 21:05") {
		t.Errorf("%q", two)
	}
}

// Names of files and folders are hostile text.
func TestNamesArePrintable(t *testing.T) {
	s := made(0, subs.Keep)
	s.File, s.Target = "a\x1b[31m.fits", "T\x1b[0m"
	bad := made(5, subs.Cull, subs.Unreadable)
	bad.ReadErr = "no\x1b]0;x"
	a := Of(of(s, bad), "o\x07ut dir")
	for _, text := range append(a.Morning, a.Trouble[0].Sentence) {
		if strings.ContainsAny(text, "\x1b\x07") {
			t.Errorf("%q", text)
		}
	}
	if !strings.Contains(strings.Join(a.Morning, " "), "'o") {
		t.Errorf("a folder with a blank is not quoted: %q", a.Morning)
	}
}

func TestNumbers(t *testing.T) {
	for got, want := range map[string]string{
		number(-0.2, 1): "−0.2", number(-0.04, 1): "0.0", rough(5.17): "5.2", rough(1234): "1200", rough(0.0567): "0.057",
		duration(40): "40\u00a0s", duration(1080): "18\u00a0min", duration(7500): "2\u00a0h 05\u00a0min", duration(7200): "2\u00a0h",
		span(10, 67, 0, "%"): "10 to 67\u00a0%", span(0.4, 0.4, 2, ""): "0.40", count(1, "sub"): "1\u00a0sub", count(2, "sub"): "2\u00a0subs",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
