package demo

import (
	"slices"
	"testing"
)

// plan is the truth of a scenario without its frames.
func plan(sc Scenario) []Sub {
	var subs []Sub
	for _, s := range scenes(sc, lumen) {
		subs = append(subs, s.Sub)
	}
	classify(subs, lumen.scale())
	return subs
}

// Every night must hold the trouble that its name promises, plainly, and
// enough good subs to tell it from.
func TestNightsHoldWhatTheyPromise(t *testing.T) {
	promised := map[string][]string{
		"default":           {"cloud", "trailed", "soft"}, // an average as deep, to 2 %, bears its short dawn
		"clear":             {},
		"cloudy":            {"cloud"},
		"windy":             {"trailed"},
		"drifting-focus":    {"soft"},
		"moonrise":          {}, // the Moon makes most subs lighter in weight, and none a loss
		"twilight":          {"twilight"},
		"narrowband-sparse": {"cloud", "trailed"},
		"two-targets":       {"cloud", "trailed"},
		"flip":              {"trailed"},
		"mixed-exposures":   {"cloud", "trailed"},
		"first-frame":       {"trailed", "soft"},
	}
	if testing.Short() {
		promised = map[string][]string{"first-frame": promised["first-frame"]}
	}
	for name, causes := range promised {
		sc, ok := ScenarioNamed(name)
		if !ok {
			t.Errorf("no night %q", name)
			continue
		}
		var good int
		var leading []string
		for _, s := range plan(sc) {
			switch s.Class {
			case Good:
				good++
				if len(s.Causes) > 0 {
					t.Errorf("%s: %s is good and has causes %v", name, s.File, s.Causes)
				}
			case Spoiled:
				leading = append(leading, s.Causes[0])
			}
		}
		slices.Sort(leading)
		leading = slices.Compact(leading)
		slices.Sort(causes)
		if !slices.Equal(leading, causes) {
			t.Errorf("%s: spoiled by %v, promised %v", name, leading, causes)
		}
		if n := sc.subs(); good < n/4 {
			t.Errorf("%s: only %d of %d subs are plainly good", name, good, n)
		}
	}
}

// astray is an event of a scenario that befalls subs which it has not; nil for none.
func astray(sc Scenario) *Span {
	var spans []Span
	for _, e := range sc.Clouds {
		spans = append(spans, e.Span)
	}
	for _, e := range sc.Trails {
		spans = append(spans, e.Span)
	}
	for _, e := range sc.Drifts {
		spans = append(spans, e.Span)
	}
	for _, e := range sc.Dews {
		spans = append(spans, e.Span)
	}
	for _, i := range append(sc.Streaks, sc.Flip) {
		spans = append(spans, Span{i, i})
	}
	for _, s := range spans {
		if s.First < 0 || s.Last < s.First || s.Last >= sc.subs() {
			return &s
		}
	}
	return nil
}

func TestScenariosAreSound(t *testing.T) {
	seen := map[string]bool{}
	for _, sc := range Scenarios() {
		if seen[sc.Name] || sc.Name == "" || sc.Summary == "" {
			t.Errorf("scenario %q: name taken or text missing", sc.Name)
		}
		seen[sc.Name] = true
		if s := astray(sc); s != nil {
			t.Errorf("%s: subs %d to %d of %d", sc.Name, s.First, s.Last, sc.subs())
		}
		for _, b := range sc.Blocks {
			if _, ok := bands[b.Filter]; !ok || b.Target >= len(sc.Targets) {
				t.Errorf("%s: block %+v", sc.Name, b)
			}
		}
	}
}

// A sub's truth does not depend on what befell the others.
func TestEventsLeaveOtherSubsAlone(t *testing.T) {
	calm := Default
	calm.Clouds, calm.Trails, calm.Drifts = nil, nil, nil
	a, b := plan(Default), plan(calm)
	for _, i := range []int{0, 3, 29, 54} { // before, between and after the events
		if a[i].FWHM != b[i].FWHM || a[i].ShiftX != b[i].ShiftX || a[i].SkyRate != b[i].SkyRate {
			t.Errorf("sub %d changed", i)
		}
	}
}
