package night

import (
	"math"
	"time"
)

// LocalTime is how far the clock on the wall was ahead of UTC.
type LocalTime struct {
	Ahead time.Duration
	Known bool
	Zone  bool // by the zone of the site's longitude, in whole hours: summer time and borders are not known
}

// Clock is the time on the wall where that is known, else UTC, and says so.
func (l LocalTime) Clock(t time.Time) string {
	switch {
	case t.IsZero():
		return "--:--"
	case l.Known:
		return t.Add(l.Ahead).UTC().Format("15:04")
	}
	return t.UTC().Format("15:04 UTC")
}

// localTime is the user's word, else the zone of the site's longitude: 15
// degrees an hour.
func (r *Result) localTime() LocalTime {
	if ahead := r.Settings.UTCOffset; ahead != nil {
		return LocalTime{Ahead: seconds(3600 * *ahead).Round(time.Minute), Known: true}
	}
	if site := r.NightSite(); site.Valid() {
		return LocalTime{Ahead: time.Duration(math.Round(site.Lon/15)) * time.Hour, Known: true, Zone: true}
	}
	return LocalTime{}
}
