package sky

import (
	"math"
	"time"
)

// How far the Sun's centre is below the horizon (geometric) at the end of
// each twilight, and at sunset with refraction and the Sun's radius; degrees.
const (
	AtSunset       = -0.8333
	AtCivil        = -6.0
	AtNautical     = -12.0
	AtAstronomical = -18.0
)

// Night is the time from one mean local noon to the next.
type Night struct {
	Date                  string // of the first noon, local: "2024-03-20"
	Start, End            time.Time
	Sun, Nautical, Astron Span // while the Sun is below the depth of that name
}

// Span is a stretch of time; both ends are zero when there is none.
type Span struct{ Start, End time.Time }

// Hours is the length of the span.
func (s Span) Hours() float64 { return s.End.Sub(s.Start).Hours() }

// Overlap is the part of the span that lies between two times.
func (s Span) Overlap(from, to time.Time) time.Duration {
	part := s.Within(Span{from, to})
	return max(0, part.End.Sub(part.Start))
}

// Within is what of the span lies in another; where they do not meet, it ends before it
// begins.
func (s Span) Within(other Span) Span {
	if s.Start.Before(other.Start) {
		s.Start = other.Start
	}
	if s.End.After(other.End) {
		s.End = other.End
	}
	return s
}

// NightOf is the night that t falls into. In summer a span may be empty, in
// the polar night it lasts from noon to noon.
func NightOf(site *Site, t time.Time) Night {
	noon := NewCalendar(site, nil).noon(t)
	n := Night{Date: noon.Format(time.DateOnly), Start: noon, End: noon.Add(24 * time.Hour)}
	n.Sun = n.below(site, AtSunset)
	n.Nautical = n.below(site, AtNautical)
	n.Astron = n.below(site, AtAstronomical)
	return n
}

// below is the span of the night in which the Sun stands lower than depth.
// Between two noons it sinks through a depth once and rises through it once.
func (n Night) below(site *Site, depth float64) Span {
	const step = 5 * time.Minute
	p := site.place()
	lower := func(t time.Time) bool { return p.sunAlt(t) < depth }
	var s Span
	was := lower(n.Start)
	if was {
		s.Start = n.Start
	}
	for t := n.Start.Add(step); !t.After(n.End); t = t.Add(step) {
		is := lower(t)
		if is == was {
			continue
		}
		edge := bisect(t.Add(-step), t, lower)
		if is && s.Start.IsZero() {
			s.Start = edge
		}
		if !is {
			s.End = edge
		}
		was = is
	}
	if was {
		s.End = n.End
	}
	return s
}

// bisect finds when the answer changes between a and b, to the second.
func bisect(a, b time.Time, answer func(time.Time) bool) time.Time {
	first := answer(a)
	for b.Sub(a) > time.Second {
		mid := a.Add(b.Sub(a) / 2)
		if answer(mid) == first {
			a = mid
		} else {
			b = mid
		}
	}
	return b
}

func (p place) sunAlt(t time.Time) float64 {
	now := at(t)
	return p.see(now, now.sun).alt
}

// Transit is the target's meridian crossing nearest to t; J2000 coordinates.
func Transit(site *Site, t time.Time, raDeg, decDeg float64) time.Time {
	p := site.place()
	// The second step takes up what precession and nutation change in between.
	for range 2 {
		now := at(t)
		ha := p.see(now, now.fromJ2000(raDeg, decDeg)).hourAngle
		t = t.Add(-time.Duration(ha / siderealRate * float64(time.Hour)))
	}
	return t.Round(time.Second)
}

// Twilight is when, within a span, the Sun stands above -18°; daylight counts.
func Twilight(site *Site, within Span) []Span {
	p := site.place()
	return within.where(func(t time.Time) bool { return p.sunAlt(t) > AtAstronomical })
}

// MoonUp is when, within a span, the Moon stands above the horizon.
func MoonUp(site *Site, within Span) []Span {
	p := site.place()
	return within.where(func(t time.Time) bool { now := at(t); return p.see(now, now.moon).alt > 0 })
}

// where gives the parts of the span in which something holds that changes
// slowly: what lasts less than five minutes is missed.
func (s Span) where(holds func(time.Time) bool) (parts []Span) {
	const step = 5 * time.Minute
	if !s.End.After(s.Start) {
		return nil
	}
	was, from := holds(s.Start), s.Start
	for t := s.Start; t.Before(s.End); {
		next := t.Add(step)
		if next.After(s.End) {
			next = s.End
		}
		if is := holds(next); is != was {
			edge := bisect(t, next, holds)
			if was {
				parts = append(parts, Span{from, edge})
			}
			was, from = is, edge
		}
		t = next
	}
	if was {
		parts = append(parts, Span{from, s.End})
	}
	return parts
}

// Without is how many hours of the span lie outside its parts.
func (s Span) Without(parts []Span) float64 {
	hours := s.Hours()
	for _, p := range parts {
		hours -= s.Overlap(p.Start, p.End).Hours()
	}
	return math.Max(0, hours)
}

// MoonlessHours is how much of the span the Moon is below the horizon.
func MoonlessHours(site *Site, s Span) float64 { return s.Without(MoonUp(site, s)) }
