package say

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/night"
)

// clock writes times, in UTC: with the date where a result spans several nights.
type clock struct{ format string }

// oneNight is how long subs of one night can be apart.
const oneNight = 20 * time.Hour

func newClock(r *night.Result) clock {
	var first, last time.Time
	for _, s := range r.Subs {
		if s.Start.IsZero() {
			continue
		}
		if first.IsZero() || s.Start.Before(first) {
			first = s.Start
		}
		if s.Start.After(last) {
			last = s.Start
		}
	}
	switch {
	case first.UTC().Year() != last.UTC().Year() && last.Sub(first) > oneNight:
		return clock{"2 Jan 2006 15:04"}
	case last.Sub(first) > oneNight:
		return clock{"2 Jan 15:04"}
	}
	return clock{"15:04"}
}

// dated tells that there are several nights.
func (c clock) dated() bool { return c.format != "15:04" }

func (c clock) at(t time.Time) string { return t.UTC().Format(c.format) }

// from tells a stretch of time, in one night or over several.
func (c clock) from(start, end time.Time) string {
	a, b := c.at(start), c.at(end)
	switch day := strings.TrimSuffix(a, start.UTC().Format("15:04")); {
	case a == b:
		return "at " + a
	case strings.HasPrefix(b, day):
		return "from " + a + " to " + end.UTC().Format("15:04")
	}
	return "from " + a + " to " + b
}

// apart is how far subs of one spell may be from each other.
const apart = 20 * time.Minute

// spell is subs that followed each other.
type spell struct {
	subs       []*night.Sub
	start, end time.Time
}

// spells are the stretches that a trouble's subs fall into: a long gap ends one,
// and so does a sub of the same camera that does not suffer from it.
func (t *Trouble) spells(r *night.Result) []spell {
	var list []spell
	open := map[string]int{} // the spell that each camera is in, by its number + 1
	for _, s := range r.Subs {
		camera := string(s.Camera)
		if s.Start.IsZero() {
			continue
		}
		if !slices.Contains(t.Subs, s) {
			if !slices.Contains(s.Causes, t.Cause) {
				open[camera] = 0
			}
			continue
		}
		end := s.Start.Add(time.Duration(math.Max(0, known(s.Exposure)) * float64(time.Second)))
		if n := open[camera]; n > 0 && s.Start.Sub(list[n-1].end) <= apart {
			list[n-1].end, list[n-1].subs = end, append(list[n-1].subs, s)
			continue
		}
		list = append(list, spell{[]*night.Sub{s}, s.Start, end})
		open[camera] = len(list)
	}
	return list
}

// when says when a trouble struck: up to three spells one by one, and what one of
// few subs came right after.
func (t *Trouble) when(r *night.Result, c clock) string {
	list := t.spells(r)
	switch {
	case len(list) == 0:
		return ""
	case len(list) > 3:
		return fmt.Sprintf("in %d spells %s", len(list), c.from(list[0].start, list[len(list)-1].end))
	}
	var parts []string
	for _, s := range list {
		if len(s.subs) == 1 {
			parts = append(parts, "at "+c.at(s.start))
			continue
		}
		parts = append(parts, c.from(s.start, s.end))
	}
	return join(parts)
}

// afterFilter moves no mount, but the focus.
const afterFilter = "right after the change of filter"

// few is how many subs in a row a change of something can spoil.
const few = 3

// after says what the only spell of few subs came right after; "" for nothing
// that the headers tell.
func (t *Trouble) after(r *night.Result) string {
	list := t.spells(r)
	if len(list) != 1 || len(list[0].subs) > few {
		return ""
	}
	first := list[0].subs[0]
	var before *night.Sub
	for _, s := range r.Subs {
		if s == first {
			break
		}
		if s.Camera == first.Camera && !s.Start.IsZero() {
			before = s
		}
	}
	switch {
	case before == nil || first.Start.Sub(before.Start) > oneNight/2:
		return "at the start of the night"
	case before.Target != first.Target:
		return "after the change of target"
	case before.PierSide != first.PierSide && before.PierSide != "" && first.PierSide != "":
		return "right after the meridian flip"
	case before.Filter != first.Filter:
		return afterFilter
	}
	return ""
}
