package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-ical"

	"fitsqa/internal/ahead"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
)

// outlook is of a nebula that culminates around midnight in late October, and of a target
// whose name is long and whose filter tells no wavelength.
func outlook(t *testing.T, date string, days int) ahead.Outlook {
	t.Helper()
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Skip("no time zones on this machine: ", err)
	}
	evening, err := time.Parse(time.DateOnly, date)
	if err != nil {
		t.Fatal(err)
	}
	site := &sky.Site{Lat: 47.5, Lon: -20, Elevation: 400}
	filter := func(name names.Name, nm float64, known bool) ahead.Filter {
		return ahead.Filter{Name: name, WavelengthNM: nm, Known: known, GoalHours: 20, Sky: ahead.Sky{Rate: 1, Mag: 20.3, MagErr: 0.2, Nights: 3},
			PixelScale: 0.8, ReadNoise: 2, LastExposure: math.NaN()}
	}
	o := ahead.Outlook{Site: site, Zone: zone, Options: ahead.DefaultOptions, Targets: []ahead.Target{{Name: "Heron Nebula", RA: 35, Dec: 30, Filters: []ahead.Filter{filter("L", 550, true), filter("Ha", 656, true)}},
		{Name: "A name of a target that is much too long for the table", RA: 10, Dec: 60, Filters: []ahead.Filter{filter("Mystery", 550, false)}}},
		Unplaced: []names.Name{"Elsewhere"}}
	o.Options.Nights = days
	o.Nights = ahead.Plan(site, evening.Add(20*time.Hour), o.Targets, o.Options)
	return o
}

// The table fits 80 columns, tells local time and UTC, and the change of the clock.
func TestAheadText(t *testing.T) {
	var b strings.Builder
	if err := AheadText(&b, outlook(t, "2026-10-30", 4)); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(b.String()) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > aheadColumns {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	for _, want := range []string{"UTC−06:00)", "UTC−06:00, UTC−07:00 in the morning: the clock changes", "UTC−07:00)", " UTC), ", "Left out: Elsewhere", "Wavelength not known"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

// The calendar is one that a parser of RFC 5545 takes, and holds every block.
func TestCalendar(t *testing.T) {
	o := outlook(t, "2026-10-20", 7)
	blocks := 0
	for _, n := range o.Nights {
		blocks += len(n.Blocks)
	}
	var b strings.Builder
	if err := Calendar(&b, o, time.Date(2026, 10, 20, 12, 0, 0, 0, time.UTC)); err != nil {
		t.Fatal(err)
	}
	cal, err := ical.NewDecoder(strings.NewReader(b.String())).Decode()
	if err != nil {
		t.Fatal(err)
	}
	events := cal.Events()
	if len(events) != blocks || blocks == 0 {
		t.Fatalf("%d events for %d blocks", len(events), blocks)
	}
	start, err := events[0].DateTimeStart(time.UTC)
	if err != nil || !start.Equal(o.Nights[0].Blocks[0].Span.Start.Truncate(time.Second)) {
		t.Errorf("the first event starts at %v, %v; want %v", start, err, o.Nights[0].Blocks[0].Span.Start)
	}
	seen := map[string]bool{}
	for _, e := range events {
		uid, err := e.Props.Text(ical.PropUID)
		if err != nil || uid == "" || seen[uid] {
			t.Errorf("event %q is named twice, or not at all: %v", uid, err)
		}
		seen[uid] = true
	}
	for line := range strings.SplitSeq(b.String(), "\r\n") {
		if len(line) > 75 { // RFC 5545, 3.1
			t.Errorf("a line of %d octets", len(line))
		}
	}
}

func TestAheadJSON(t *testing.T) {
	var b strings.Builder
	o := outlook(t, "2026-10-20", 3)
	if err := AheadJSON(&b, o); err != nil {
		t.Fatal(err)
	}
	o.Nights[0].Idle = ahead.SkyTooBright
	if idle := newAheadNightJSON(o.Nights[0]); idle.Idle != ahead.SkyTooBright {
		t.Errorf("nothing_to_shoot is %q", idle.Idle)
	}
	var back aheadJSON
	d := json.NewDecoder(strings.NewReader(b.String()))
	d.DisallowUnknownFields()
	if err := d.Decode(&back); err != nil {
		t.Fatal(err)
	}
	if len(back.Nights) != 3 || len(back.Nights[0].Targets) != 2 || len(back.Nights[0].Blocks) != len(o.Nights[0].Blocks) {
		t.Errorf("read back: %d nights", len(back.Nights))
	}
}
