package say

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
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

func (c clock) dated() bool { return c.format != "15:04" }

func (c clock) at(t time.Time) string { return t.UTC().Format(c.format) }

// date is what stands before the hour; "" in one night.
func (c clock) date(t time.Time) string { return strings.TrimSuffix(c.at(t), t.UTC().Format("15:04")) }

// from tells a stretch of time, in one night or over several.
func (c clock) from(start, end time.Time) string {
	a, b := c.at(start), c.at(end)
	switch {
	case a == b:
		return "at " + a
	case strings.HasPrefix(b, c.date(start)):
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
// and so does a sub of the same camera that does not suffer from it. What several cameras
// suffer from at the same time is one.
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
		end := s.Start.Add(time.Duration(math.Max(0, stats.OrZero(s.Exposure)) * float64(time.Second)))
		n := open[camera]
		if n == 0 || s.Start.Sub(list[n-1].end) > apart {
			n = len(list)
			if n > 0 && s.Start.After(list[n-1].end) {
				n = 0
			}
		}
		if n > 0 {
			l := &list[n-1]
			l.subs = append(l.subs, s)
			if open[camera] = n; end.After(l.end) {
				l.end = end
			}
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
	case len(list) == 0 || t.Cause == subs.Duplicate: // copies were shot when their originals were
		return ""
	case len(list) > 3:
		return fmt.Sprintf("in %d spells %s", len(list), c.from(list[0].start, list[len(list)-1].end))
	}
	var parts []string
	day := ""
	for _, s := range list {
		part := c.from(s.start, s.end)
		if len(s.subs) == 1 {
			part = "at " + c.at(s.start)
		}
		if date := c.date(s.start); date != "" && date == day {
			part = strings.Replace(part, date, "", 1) // said just before
		} else {
			day = date
		}
		parts = append(parts, part)
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
	var before, same *night.Sub // the sub before, and of the same night any after the spell
	for _, s := range r.Subs {
		switch {
		case s.Camera != first.Camera || s.Start.IsZero():
		case s.Start.Before(first.Start):
			before = s
		case s.Start.Sub(first.Start) < oneNight/2 && !slices.Contains(list[0].subs, s):
			same = s
		}
	}
	switch {
	case same == nil:
		return ""
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
