package watch

import (
	"math"
	"slices"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Kind of an alert.
type Kind string

// The kinds of alert.
const (
	Focus      Kind = "focus"
	Cloud      Kind = "cloud"
	Dew        Kind = "dew"
	Trailing   Kind = "trailing"
	Doubled    Kind = "doubled"
	Obstructed Kind = "obstructed"
	Saturation Kind = "saturation"
	Sky        Kind = "sky"
	Sensor     Kind = "sensor"
	Disk       Kind = "disk"
	Idle       Kind = "idle"
	Twilight   Kind = "twilight"
)

// Alert is one thing that goes wrong.
type Alert struct {
	Kind           Kind
	Words          string // safe to print
	File           string // path of the sub that shows it; "" for none
	Target, Filter string // of that sub
	Time           time.Time
}

// alertsOf are what the latest sub shows to be wrong.
func alertsOf(m *night.Moment, limits subs.Limits) []Alert {
	if len(m.Seen) == 0 {
		return nil
	}
	s := &m.Seen[len(m.Seen)-1]
	var list []Alert
	add := func(k Kind, words string) {
		if words != "" {
			list = append(list, Alert{Kind: k, Words: frames.Printable(words), File: s.Path, Target: string(s.Target), Filter: string(s.Filter), Time: s.Start})
		}
	}
	add(Focus, focusLost(m, s, limits))
	add(Sensor, offSetPoint(s, limits))
	add(Saturation, saturated(s))
	if s.Field != nil && s.Verdict != subs.Keep {
		if kind := spoiled(s); kind != "" {
			add(kind, say.SpoiledNow(s.Sub))
		}
	} else {
		add(Sky, besideTheSun(s))
	}
	return list
}

// twilightAt is the Sun's altitude from which on the sky of any site is brighter by
// some half a magnitude and more, degrees (Patat et al. 2006, A&A 455, 385; from memory).
const twilightAt = -15

// besideTheSun tells of twilight where there are no darker subs yet to show it.
func besideTheSun(s *night.Seen) string {
	if sun := s.Sky.SunAlt; !sun.OK() || sun.V < twilightAt || s.Baseline.Clear > 0 {
		return ""
	}
	return say.NotDarkYet(s.Sky.SunAlt.V)
}

// focusLost tells of a drift that goes on in the latest sub, of a sub that is soft
// already, or of a filter that begins soft. Trailed stars tell no focus.
func focusLost(m *night.Moment, s *night.Seen, limits subs.Limits) string {
	if slices.Contains(s.Causes, subs.Trailed) {
		return ""
	}
	for i := range m.FocusDrifts {
		if d := &m.FocusDrifts[i]; d.Camera == s.Camera && d.Until.Equal(s.Start) {
			return say.FocusLeaves(d, m.Local)
		}
	}
	if leads(s, subs.Soft) {
		return say.SoftNow(s.Sub)
	}
	return beginsSoft(m, s, limits)
}

// fewestBefore is how many subs through other filters tell how wide stars are.
const fewestBefore = 3

// beginsSoft holds the first subs through a filter, which have none of their own to be
// compared with, against the ones before: filters differ by far less than a sub may
// be soft.
func beginsSoft(m *night.Moment, s *night.Seen, limits subs.Limits) string {
	if s.Field == nil || !(s.Field.FWHM.V > 0) || s.Baseline.FWHM > 0 {
		return ""
	}
	var before []float64
	for i := len(m.Seen) - 2; i >= 0 && len(before) < 3*fewestBefore; i-- {
		o := &m.Seen[i]
		if o.Camera == s.Camera && o.Target == s.Target && o.Binning == s.Binning && o.Filter != s.Filter && o.Field != nil && o.Field.FWHM.V > 0 && o.Verdict == subs.Keep {
			before = append(before, o.Field.FWHM.V)
		}
	}
	if len(before) < fewestBefore {
		return ""
	}
	wider := s.Field.FWHM.V / stats.Median(before)
	if !(wider > limits.For(s.Target, s.Filter).FWHMCull) {
		return ""
	}
	return say.BeginsSoft(wider, s.Filter)
}

// leads tells whether a cause is what is wrong with a sub before all else.
func leads(s *night.Seen, c subs.Cause) bool {
	return s.Verdict != subs.Keep && len(s.Causes) > 0 && s.Causes[0] == c
}

// spoiled is what the leading cause of a sub's verdict makes an alarm of; "" for none.
func spoiled(s *night.Seen) Kind {
	if len(s.Causes) == 0 {
		return ""
	}
	switch s.Causes[0] {
	case subs.Cloud, subs.Haze, subs.FewStars, subs.NoStars:
		return Cloud
	case subs.Dewed:
		return Dew
	case subs.Obstructed:
		return Obstructed
	case subs.BrightSky, subs.Moonlit, subs.Twilight:
		return Sky
	case subs.Trailed:
		if s.Field.Double.Is() {
			return Doubled
		}
		return Trailing
	}
	return ""
}

// offSetPoint tells of a sensor that is not as cold as it was told to be.
func offSetPoint(s *night.Seen, limits subs.Limits) string {
	off := s.SensorTemp - s.SetTemp
	if limit := limits.For(s.Target, s.Filter).TemperatureDoubtful; !(math.Abs(off) > limit) {
		return ""
	}
	return say.OffSetPoint(s.SensorTemp, off)
}

// Common practice, no source: half the range is left for stars and nebula, and
// what saturates of the stars has lost its colour.
const (
	skyMost       = 0.5  // of the camera's range
	saturatedMost = 0.25 // of the stars
	starsFewest   = 20   // that a share is told of
)

// saturated tells of an exposure that is too long for sky or stars.
func saturated(s *night.Seen) string {
	switch {
	case s.SkyShare > skyMost:
		return say.SkyFills(s.SkyShare)
	case s.Field != nil && s.Field.Count >= starsFewest && float64(s.Field.Saturated) > saturatedMost*float64(s.Field.Count):
		return say.StarsSaturated(s.Field.Saturated, s.Field.Count)
	}
	return ""
}

// calmSubs without an alarm end it: the next one is reported again.
const calmSubs = 3

// alarms tell each trouble once, until it is over.
type alarms struct {
	shown map[Kind]int  // subs without it that end a trouble of subs
	timed map[Kind]bool // alarms of time and room that are on
}

// ofSub are the new ones of those that one more sub shows.
func (a *alarms) ofSub(now []Alert) (list []Alert) {
	before := a.shown
	a.shown = map[Kind]int{}
	for k, calm := range before {
		if calm > 1 {
			a.shown[k] = calm - 1
		}
	}
	for _, alert := range now {
		if before[alert.Kind] == 0 {
			list = append(list, alert)
		}
		a.shown[alert.Kind] = calmSubs
	}
	return list
}

// ofTime are the new ones of those that are on.
func (a *alarms) ofTime(now []Alert) (list []Alert) {
	before := a.timed
	a.timed = map[Kind]bool{}
	for _, alert := range now {
		if !before[alert.Kind] {
			list = append(list, alert)
		}
		a.timed[alert.Kind] = true
	}
	return list
}
