package sky

import (
	"slices"
	"time"
)

// Calendar gives times the date of their night: nights are split at local
// noon, and carry the date of the evening on which they begin.
type Calendar struct {
	split time.Duration // UTC time of day at which a new night begins, in [0, 24 h)
}

// NewCalendar splits at mean noon of the site's longitude. When the site is not
// known it splits in the middle of the longest stretch of the day in which none
// of the times fall, which no night at work can contain; at 12h UTC when there
// are no times either.
func NewCalendar(site *Site, times []time.Time) Calendar {
	if site.Valid() {
		return Calendar{wrapDay(12*time.Hour - time.Duration(site.Lon/15*float64(time.Hour)))}
	}
	var day []time.Duration
	for _, t := range times {
		if !t.IsZero() {
			day = append(day, timeOfDay(t))
		}
	}
	if len(day) == 0 {
		return Calendar{12 * time.Hour}
	}
	slices.Sort(day)
	// The gap over midnight, then those between neighbours.
	start, longest := day[len(day)-1], day[0]+24*time.Hour-day[len(day)-1]
	for i := 1; i < len(day); i++ {
		if gap := day[i] - day[i-1]; gap > longest {
			start, longest = day[i-1], gap
		}
	}
	return Calendar{wrapDay(start + longest/2)}
}

// Date of the night that t falls into, "2024-03-20"; "" for the zero time.
func (c Calendar) Date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return c.noon(t).Format(time.DateOnly)
}

// NightDate is the date of the night that t falls into; nil site: split at 12h UTC.
func NightDate(t time.Time, site *Site) string { return NewCalendar(site, nil).Date(t) }

// noon is the last split at or before t. Its UTC day is the local day too:
// west of Greenwich noon comes after 12h UTC of the same day, east before.
func (c Calendar) noon(t time.Time) time.Time {
	return t.UTC().Add(-wrapDay(timeOfDay(t) - c.split))
}

func timeOfDay(t time.Time) time.Duration {
	t = t.UTC()
	return t.Sub(time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC))
}

func wrapDay(d time.Duration) time.Duration {
	const day = 24 * time.Hour
	return (d%day + day) % day
}
