package ahead

import (
	"encoding/json"
	"math"
	"os"
	"testing"
	"time"

	"fitsqa/internal/sky"
)

type crossing struct {
	UTC    time.Time `json:"utc"`
	Rising bool      `json:"rising"`
}

type referenceNight struct {
	Lat        float64     `json:"lat"`
	Lon        float64     `json:"lon"`
	Elevation  float64     `json:"elevation_m"`
	Noon       time.Time   `json:"noon_utc"`
	Sunset     []crossing  `json:"sunset"`
	Dark       []crossing  `json:"dark"`
	Moon       []crossing  `json:"moon"`
	Transits   []time.Time `json:"transits"`
	Middle     time.Time   `json:"middle_utc"`
	MoonAlt    float64     `json:"moon_alt"`
	TargetAlt  float64     `json:"target_alt"`
	Separation float64     `json:"moon_separation"`
}

// A year of nights at five sites, from the arctic circle's edge to the equator,
// held to astropy's; crosscheck/nights.py makes the file.
func TestReferenceNights(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/nights.json")
	if err != nil {
		t.Fatal(err)
	}
	var reference struct {
		Target [2]float64       `json:"target"`
		Nights []referenceNight `json:"nights"`
	}
	if err := json.Unmarshal(data, &reference); err != nil {
		t.Fatal(err)
	}
	if len(reference.Nights) < 200 {
		t.Fatalf("the reference holds %d nights", len(reference.Nights))
	}
	target := Target{Name: "T", RA: reference.Target[0], Dec: reference.Target[1], Filters: []Filter{{Name: "L", WavelengthNM: 550, Sky: Sky{Mag: 20}}}}
	opt := DefaultOptions
	opt.Nights, opt.MinAltitude = 1, 0
	for _, want := range reference.Nights {
		site := &sky.Site{Lat: want.Lat, Lon: want.Lon, Elevation: want.Elevation}
		got := Plan(site, want.Middle, []Target{target}, opt)[0]
		name := want.Noon.Format(time.DateOnly) + " at " + time.Duration(want.Lat*float64(time.Hour)).String()
		checkCrossings(t, name+" Sun", got.Sun, want.Sunset)
		if !got.Nautical {
			checkCrossings(t, name+" dark", got.Dark, want.Dark)
		} else if len(want.Dark) > 0 {
			t.Errorf("%s: it gets dark, which was missed", name)
		}
		checkMoon(t, name, got, want.Moon)
		checkTransit(t, name, got.Targets[0].Transit, want.Transits)

		at := sky.At(site, want.Middle, target.RA, target.Dec)
		near(t, name+" Moon altitude", at.MoonAlt.V, want.MoonAlt, 0.1)
		near(t, name+" target altitude", at.TargetAlt.V, want.TargetAlt, 0.1)
		near(t, name+" Moon distance", at.MoonSeparation.V, want.Separation, 0.3)
	}
}

// rise and set are wanted to two minutes: what plans need, and sixty times what
// either side can tell apart.
const riseTolerance = 2 * time.Minute

func checkCrossings(t *testing.T, name string, got sky.Span, want []crossing) {
	t.Helper()
	for _, w := range want {
		edge := got.Start
		if w.Rising {
			edge = got.End
		}
		if d := edge.Sub(w.UTC).Abs(); d > riseTolerance {
			t.Errorf("%s: %v for %v", name, edge, w.UTC)
		}
	}
}

// checkMoon looks for each of the Moon's risings and settings in the dark.
func checkMoon(t *testing.T, name string, got Night, want []crossing) {
	t.Helper()
	for _, w := range want {
		if w.UTC.Before(got.Dark.Start.Add(riseTolerance)) || w.UTC.After(got.Dark.End.Add(-riseTolerance)) {
			continue
		}
		found := false
		for _, s := range got.MoonUp {
			edge := s.Start
			if !w.Rising {
				edge = s.End
			}
			found = found || edge.Sub(w.UTC).Abs() <= riseTolerance
		}
		if !found {
			t.Errorf("%s: the Moon crosses the horizon at %v, not found in %v", name, w.UTC, got.MoonUp)
		}
	}
}

func checkTransit(t *testing.T, name string, got time.Time, want []time.Time) {
	t.Helper()
	for _, w := range want {
		if got.Sub(w).Abs() <= riseTolerance {
			return
		}
	}
	if len(want) > 0 {
		t.Errorf("%s: crosses the meridian at %v, want one of %v", name, got, want)
	}
}

func near(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", name, got, want, tolerance)
	}
}
