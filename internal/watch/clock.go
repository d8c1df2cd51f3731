package watch

import (
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/sky"
)

const (
	idleExposures = 3                // without a new frame,
	idleLeast     = 6 * time.Minute  // and no less: a flip with centring and focus takes as long (common practice, no source)
	dawnAhead     = 20 * time.Minute // that twilight is announced ahead, and an exposure
	roomEvery     = 30 * time.Second
)

// clock is the night's own: the end of the latest sub, and what has passed since
// it arrived.
type clock struct {
	latest   time.Time // start of the latest sub
	exposure time.Duration
	arrived  time.Time // by the computer's clock
	frame    time.Time // when any frame arrived, likewise
	local    night.LocalTime
	dawn     time.Time // of the latest sub's night; zero when there is none
	looked   time.Time // for room
}

// seen takes in the latest sub, and tells whether it is a new one.
func (c *clock) seen(m *night.Moment, now time.Time) bool {
	if len(m.Seen) == 0 {
		return false
	}
	s := m.Seen[len(m.Seen)-1]
	if s.Start.Before(c.latest) {
		return false
	}
	c.latest, c.arrived, c.local = s.Start, now, m.Local
	if s.Exposure > 0 && s.Exposure < 86400 {
		c.exposure = time.Duration(s.Exposure * float64(time.Second))
	}
	c.dawn = dawnOf(m.Site, s.Start)
	return true
}

// heard takes in that some frame arrived: darks and flats are frames, too.
func (c *clock) heard(now time.Time) { c.frame = now }

// dawnOf is when the Sun comes within 18° of the horizon in the night of t; zero
// where that is not known, or never is below.
func dawnOf(site *sky.Site, t time.Time) time.Time {
	if !site.Valid() || t.IsZero() {
		return time.Time{}
	}
	return sky.NightOf(site, t).Astron.End
}

func (c *clock) alarms(now time.Time) []Alert {
	if c.arrived.IsZero() || c.latest.IsZero() {
		return nil
	}
	there := c.latest.Add(c.exposure).Add(now.Sub(c.arrived))
	return append(beforeDawn(c.dawn, there, c.exposure, c.local), waiting(now.Sub(c.frame), c.exposure, c.dawn, there)...)
}

// beforeDawn tells that astronomical twilight comes within an exposure and a while. t is
// the night's time; dawn is zero when there is none.
func beforeDawn(dawn, t time.Time, exposure time.Duration, local night.LocalTime) []Alert {
	left := dawn.Sub(t)
	if dawn.IsZero() || left < 0 || left > dawnAhead+exposure {
		return nil
	}
	what := fact.Of(TwilightNears, fact.Text("dawn", local.Clock(dawn)), fact.Number("left_min", left.Minutes()), fact.Count("exposures", exposures(left, exposure)))
	return []Alert{{Kind: Twilight, What: what, Time: t}}
}

func exposures(left, exposure time.Duration) int {
	if exposure <= 0 {
		return 0
	}
	return int(left / exposure)
}

// waiting tells that no frame came for three exposures; after dawn nobody waits
// for one.
func waiting(since, exposure time.Duration, dawn, t time.Time) []Alert {
	if exposure <= 0 || since <= max(idleExposures*exposure, idleLeast) || !dawn.IsZero() && t.After(dawn) {
		return nil
	}
	what := fact.Of(NoFrames, fact.Number("waited_min", since.Minutes()), fact.Number("exposure_s", exposure.Seconds()))
	return []Alert{{Kind: Idle, What: what, Time: t}}
}

func (c *clock) roomDue(now time.Time) bool {
	if now.Sub(c.looked) < roomEvery {
		return false
	}
	c.looked = now
	return true
}

// roomFor left for fewer frames than this, or bytes, is little.
const (
	roomFrames = 30
	roomBytes  = 1 << 30
)

// roomFor tells that a disk with so many bytes free is nearly full for frames of this
// size. Negative: not known.
func roomFor(free, frame int64) []Alert {
	if free < 0 || free >= max(roomBytes, roomFrames*frame) {
		return nil
	}
	what := fact.Of(DiskFull, fact.Number("free_mib", float64(free>>20)))
	if frame > 0 {
		what = fact.Of(DiskFullFor, append(what.Values, fact.Number("frames", float64(free/frame)))...)
	}
	return []Alert{{Kind: Disk, What: what}}
}
