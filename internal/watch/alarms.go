package watch

import (
	"math"
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
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
	What           fact.Fact
	Why            *subs.Sub // whose verdict tells more of it; nil where What tells all
	File           string    // path of the sub that shows it; "" for none
	Target, Filter string    // of that sub
	Time           time.Time
}

func alertsOf(m *night.Moment, limits subs.Limits) []Alert {
	if len(m.Seen) == 0 {
		return nil
	}
	s := &m.Seen[len(m.Seen)-1]
	var list []Alert
	add := func(k Kind, what fact.Fact) {
		if what.Code == "" {
			return
		}
		a := Alert{Kind: k, What: what, File: s.Path, Target: string(s.Target), Filter: string(s.Filter), Time: s.Start}
		if byVerdict(what.Code) {
			a.Why = s.Sub
		}
		list = append(list, a)
	}
	add(Focus, focusLost(m, s, limits))
	add(Sensor, offSetPoint(s, limits))
	add(Saturation, saturated(s))
	if s.Field != nil && s.Verdict != subs.Keep {
		add(spoiled(s))
	} else {
		add(Sky, besideTheSun(s))
	}
	return list
}

// twilightAt is the Sun's altitude from which on the sky of any site is brighter by
// some half a magnitude and more, degrees (Patat et al. 2006, A&A 455, 385; from memory).
const twilightAt = -15

// besideTheSun tells of twilight where there are no darker subs yet to show it.
func besideTheSun(s *night.Seen) fact.Fact {
	if sun := s.Sky.SunAlt; !sun.OK() || sun.V < twilightAt || s.Baseline.Clear > 0 {
		return fact.Fact{}
	}
	return fact.Of(NotDarkYet, fact.Number("sun_deg", s.Sky.SunAlt.V))
}

// focusLost tells of a drift that goes on in the latest sub, of a sub that is soft
// already, or of a filter that begins soft. Trailed stars tell no focus.
func focusLost(m *night.Moment, s *night.Seen, limits subs.Limits) fact.Fact {
	if slices.Contains(s.Causes, subs.Trailed) {
		return fact.Fact{}
	}
	for i := range m.FocusDrifts {
		if d := &m.FocusDrifts[i]; d.Camera == s.Camera && d.Until.Equal(s.Start) {
			return fact.Of(FocusLeaves, fact.Text("since", m.Local.Clock(d.Since)), fact.Number("wider_pct", 100*(d.Widened-1)))
		}
	}
	if leads(s, subs.Soft) {
		return fact.Of(StarsSoft)
	}
	return beginsSoft(m, s, limits)
}

// fewestBefore is how many subs through other filters tell how wide stars are.
const fewestBefore = 3

// beginsSoft holds the first subs through a filter, which have none of their own to be
// compared with, against the ones before: filters differ by far less than a sub may
// be soft.
func beginsSoft(m *night.Moment, s *night.Seen, limits subs.Limits) fact.Fact {
	if s.Field == nil || !(s.Field.FWHM.V > 0) || s.Baseline.FWHM > 0 {
		return fact.Fact{}
	}
	var before []float64
	for i := len(m.Seen) - 2; i >= 0 && len(before) < 3*fewestBefore; i-- {
		o := &m.Seen[i]
		if o.Camera == s.Camera && o.Target == s.Target && o.Binning == s.Binning && o.Filter != s.Filter && o.Field != nil && o.Field.FWHM.V > 0 && o.Verdict == subs.Keep {
			before = append(before, o.Field.FWHM.V)
		}
	}
	if len(before) < fewestBefore {
		return fact.Fact{}
	}
	wider := s.Field.FWHM.V / stats.Median(before)
	if !(wider > limits.For(s.Target, s.Filter).FWHMCull) {
		return fact.Fact{}
	}
	pct := fact.Number("wider_pct", 100*(wider-1))
	if s.Filter == "" {
		return fact.Of(UnnamedBeginsSoft, pct)
	}
	return fact.Of(BeginsSoft, pct, fact.Text("filter", string(s.Filter)))
}

func leads(s *night.Seen, c subs.Cause) bool {
	return s.Verdict != subs.Keep && len(s.Causes) > 0 && s.Causes[0] == c
}

// byVerdict tells whether a sub's verdict tells more of an alert.
func byVerdict(c fact.Code) bool {
	switch c {
	case StarsSoft, CloudOrHaze, DewNow, InFront, SkyTooBright, StarsTrailed, StarsDoubled:
		return true
	}
	return false
}

// spoiled is the alarm of the leading cause of a sub's verdict; no fact for none.
func spoiled(s *night.Seen) (Kind, fact.Fact) {
	blank := func(f subs.Finding) bool { return fact.Has(f.Facts, subs.Blank) } // in any sky
	if len(s.Causes) == 0 || slices.ContainsFunc(s.Findings, blank) {
		return "", fact.Fact{}
	}
	switch s.Causes[0] {
	case subs.Cloud, subs.Haze, subs.FewStars, subs.NoStars:
		return Cloud, fact.Of(CloudOrHaze)
	case subs.Dewed:
		return Dew, fact.Of(DewNow)
	case subs.Obstructed:
		return Obstructed, fact.Of(InFront)
	case subs.BrightSky, subs.Moonlit, subs.Twilight:
		return Sky, fact.Of(SkyTooBright)
	case subs.Trailed:
		if s.Field.Double.Is() {
			return Doubled, fact.Of(StarsDoubled)
		}
		return Trailing, fact.Of(StarsTrailed)
	}
	return "", fact.Fact{}
}

func offSetPoint(s *night.Seen, limits subs.Limits) fact.Fact {
	off := s.SensorTemp - s.SetTemp
	if limit := limits.For(s.Target, s.Filter).TemperatureDoubtful; !(math.Abs(off) > limit) {
		return fact.Fact{}
	}
	return fact.Of(OffSetPoint, fact.Number("sensor_c", s.SensorTemp), fact.Number("off_c", off))
}

// Common practice, no source: half the range is left for stars and nebula, and
// what saturates of the stars has lost its colour.
const (
	skyMost       = 0.5  // of the camera's range
	saturatedMost = 0.25 // of the stars
	starsFewest   = 20   // that a share is told of
)

func saturated(s *night.Seen) fact.Fact {
	switch {
	case s.SkyShare > skyMost:
		return fact.Of(SkyFills, fact.Number("range_pct", 100*s.SkyShare))
	case s.Field != nil && s.Field.Count >= starsFewest && float64(s.Field.Saturated) > saturatedMost*float64(s.Field.Count):
		return fact.Of(StarsSaturated, fact.Count("saturated", s.Field.Saturated), fact.Count("stars", s.Field.Count))
	}
	return fact.Fact{}
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
