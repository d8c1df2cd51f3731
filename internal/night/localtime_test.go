package night

import (
	"testing"
	"time"

	"fitsqa/internal/sky"
)

// Zones are centred on whole multiples of 15 degrees (15 degrees an hour is how
// far the Earth turns); the user's word goes before them.
func TestLocalTime(t *testing.T) {
	half := -3.5
	for _, c := range []struct {
		site  *sky.Site
		own   *float64
		ahead time.Duration
		known bool
	}{
		{nil, nil, 0, false},
		{&sky.Site{Lat: 47, Lon: -20}, nil, -time.Hour, true},
		{&sky.Site{Lat: 47, Lon: 22.4}, nil, time.Hour, true},
		{&sky.Site{Lat: 47, Lon: 22.6}, nil, 2 * time.Hour, true},
		{&sky.Site{Lat: -33, Lon: 179}, nil, 12 * time.Hour, true},
		{&sky.Site{Lat: 47, Lon: 22.6}, &half, -3*time.Hour - 30*time.Minute, true},
		{nil, &half, -3*time.Hour - 30*time.Minute, true},
	} {
		r := &Result{Settings: Settings{Site: c.site, UTCOffset: c.own}, Subs: []*Sub{{}}}
		if c.site == nil {
			r.Subs = nil
		}
		if got := r.localTime(); got.Ahead != c.ahead || got.Known != c.known || got.Zone != (c.known && c.own == nil) {
			t.Errorf("%v %v: %+v", c.site, c.own, got)
		}
	}
}
