package subs

import (
	"time"

	"fitsqa/internal/names"
)

// Event is a run of bad subs of one camera with one kind of cause.
type Event struct {
	Cause      Cause     // the one that leads most of them
	Start, End time.Time // UTC, start of the first sub to the end of the last
	Subs       int       // bad ones
	Dated      bool      // one of several nights
}

// kinds are causes that are one event: haze is thin cloud, and clouded subs
// lose their stars.
var kinds = map[Cause]Cause{Haze: Cloud, NoStars: Cloud, FewStars: Cloud, Moonlit: BrightSky}

func kind(c Cause) Cause {
	if k, ok := kinds[c]; ok {
		return k
	}
	return c
}

// events finds the runs, whatever the filter, in time order. One bad sub is no
// run. In: in time order.
func events(night []*Sub) []Event {
	var cameras []names.Name
	byCamera := map[names.Name][]*Sub{}
	for _, s := range night {
		if s.Start.IsZero() || broken(s) {
			continue // shows neither good nor bad
		}
		if byCamera[s.Camera] == nil {
			cameras = append(cameras, s.Camera)
		}
		byCamera[s.Camera] = append(byCamera[s.Camera], s)
	}
	var out []Event
	for _, c := range cameras {
		for _, session := range sessions(byCamera[c]) {
			out = append(out, runs(session)...)
		}
	}
	return dated(out, night)
}

// dated marks events where there are several nights.
func dated(list []Event, night []*Sub) []Event {
	var first, last time.Time
	for _, s := range night {
		if t := s.Start; !t.IsZero() {
			if first.IsZero() || t.Before(first) {
				first = t
			}
			if t.After(last) {
				last = t
			}
		}
	}
	if last.Sub(first) <= 20*time.Hour {
		return list
	}
	for i := range list {
		list[i].Dated = true
	}
	return list
}

// runs are the stretches of subs with one kind of cause. A single sub without
// it, between two with it on either side, lies inside: a gap in the cloud ends
// no cloud.
func runs(night []*Sub) []Event {
	kindAt := func(i int) Cause {
		if i < 0 || i >= len(night) {
			return ""
		}
		return badKind(night[i])
	}
	var out []Event
	for i := 0; i < len(night); {
		k := kindAt(i)
		j := i + 1
		for k != "" && (kindAt(j) == k || kindAt(j-2) == k && kindAt(j-1) == k && kindAt(j+1) == k && kindAt(j+2) == k) {
			j++
		}
		if k != "" {
			var bad []*Sub
			for _, s := range night[i:j] {
				if badKind(s) == k {
					bad = append(bad, s)
				}
			}
			if len(bad) > 1 {
				out = append(out, event(bad))
			}
		}
		i = j
	}
	return out
}

// badKind is the kind of a spoiled or suspect sub's leading cause; "" for a good
// one.
func badKind(s *Sub) Cause {
	if s.Verdict == Keep || len(s.Causes) == 0 {
		return ""
	}
	return kind(s.Causes[0])
}

// broken tells whether the file, not the sky, is what is wrong.
func broken(s *Sub) bool {
	return len(s.Causes) > 0 && (s.Causes[0] == Unreadable || s.Causes[0] == Truncated || s.Causes[0] == Duplicate)
}

func event(bad []*Sub) Event {
	count := map[Cause]int{}
	lead := bad[0].Causes[0]
	for _, s := range bad {
		c := s.Causes[0]
		if count[c]++; count[c] > count[lead] {
			lead = c
		}
	}
	last := bad[len(bad)-1]
	end := last.Start
	if last.Exposure > 0 {
		end = end.Add(time.Duration(last.Exposure * float64(time.Second)))
	}
	return Event{Cause: lead, Start: bad[0].Start, End: end, Subs: len(bad)}
}
