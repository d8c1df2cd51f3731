package subs

import "math"

// unexplainedSky tells whether the sky is up by more than Sun and Moon can do.
func (e *evidence) unexplainedSky() bool {
	return e.skyLeft() > cloudSkyRise && e.skyCause() == BrightSky
}

// skyCause is the likeliest cause of a sky above the baseline.
func (e *evidence) skyCause() Cause {
	sun := e.Sky.SunAlt
	switch {
	case sun.V > fullTwilightAlt:
		return Twilight
	case e.warmthLights():
		return WrongSettings
	case e.moonExplains():
		return Moonlit
	case sun.V > twilightAlt:
		return Twilight
	case !sun.OK() && e.starsUndimmed() && e.edgeOfNight():
		return Twilight
	}
	return BrightSky
}

// starsUndimmed tells that no loss of light is seen that would make the sky a cloud's.
func (e *evidence) starsUndimmed() bool { return !(e.transparency < lossShows-0.1) }

const (
	usuallyDoubled = 6.5 // °C in which a dark current doubles: "5 to 7" is a rule of thumb (common practice, no source)
	warmthLeads    = 0.5 // of what is above the baseline's level, from which on the sensor is the likelier cause
)

// warmthLights tells whether the dark current of a sensor warmer than the group's is
// most of what the level is above the baseline: at the usual growth with temperature
// it makes up half, and so at the fastest nearly all of it.
func (e *evidence) warmthLights() bool {
	warmer := e.SensorTemp - e.base.SensorTemp
	rise := (e.SkyADU.V - e.base.Sky) * e.ElectronsPerADU
	if !(warmer > tempReadout) || !(rise > 0) || e.skyByNoise {
		return false
	}
	return e.warmth(e.DarkRate.V, usuallyDoubled) > warmthLeads*rise
}

// moonExplains tells whether moonlight can have raised the sky this far over the
// baseline's, which may be moonlit itself: the model brightens a dark sky, town light
// makes the rise smaller, and the model is good to a quarter (Krisciunas and Schaefer 1991).
func (e *evidence) moonExplains() bool {
	moonlit := moonlight(e.Sub)
	if e.base.Moonlight > 1 {
		moonlit /= e.base.Moonlight
	}
	return e.sky-1 < 1.5*(moonlit-1)
}

// moonlight is a dark sky with the Moon's light, times one without; NaN where that is unknown.
func moonlight(s *Sub) float64 { return math.Pow(10, -0.4*s.Sky.MoonlightMag.V) }

// edgeOfNight tells whether the sky rises steadily and steeply from a dark sub
// over this one to the end of its night, or, backwards, to its start.
func (e *evidence) edgeOfNight() bool {
	return e.risesTowards(1) || e.risesTowards(-1)
}

// inSession tells whether the j-th sub is there and none of the daylight between:
// the folder may hold several nights.
func (e *evidence) inSession(j int) bool {
	if j < 0 || j >= len(e.night) {
		return false
	}
	for i := min(j, e.place); i < max(j, e.place); i++ {
		if e.night[i+1].Start.Sub(e.night[i].Start) > sessionGap {
			return false
		}
	}
	return true
}

func (e *evidence) risesTowards(direction int) bool {
	// The chain from the last dark sub to the night's edge.
	from := e.place
	for e.inSession(from) && !(e.night[from].sky <= 1.1) {
		from -= direction
	}
	if !e.inSession(from) {
		return false
	}
	first, last := e.night[from], e.night[from]
	steps, steepest := 0, 0.0
	for j := from + direction; e.inSession(j); j += direction {
		o := e.night[j]
		if !(o.sky > 0) || o.skyAtLeast {
			continue
		}
		if o.sky < 0.95*last.sky {
			return false
		}
		steepest = math.Max(steepest, math.Log(o.sky/last.sky))
		steps++
		last = o
	}
	rise := math.Log(last.sky / first.sky)
	hours := last.Start.Sub(first.Start).Abs().Hours()
	return hours > 0 && rise/hours > twilightSlope && (steps < 4 || steepest < twilightStep*rise)
}
