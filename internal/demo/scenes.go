package demo

import (
	"fmt"
	"strings"
	"time"

	"fitsqa/internal/sky"
)

// The observing site of every night: open ocean, so that it names no place.
var site = sky.Site{Lat: 41, Lon: -38, Elevation: 10}

const (
	overhead     = 6 * time.Second   // read-out and dither between subs
	filterChange = 12 * time.Second  //
	flipPause    = 240 * time.Second // flip, centring, guiding again
	flipTurn     = 0.3               // degrees off half a turn: the mount is not quite aligned
	flipShiftX   = 14                // px
	flipShiftY   = -8                // px

	coolingPerHour = 1.6 // °C that the air loses
)

// scenes plans every sub of a night.
func scenes(sc Scenario, cam Camera) []*scene {
	fields := make([]*field, len(sc.Targets))
	for i, t := range sc.Targets {
		fields[i] = newField(sc, cam, t)
	}
	rng := source(sc.Seed, "shots")
	var list []*scene
	seeing := 0.0 // logarithm of FWHM over the median, wanders
	counts := map[string]int{}
	starts, blurs := startTimes(sc), blurs(sc)
	for _, b := range sc.Blocks {
		for range b.Subs {
			i := len(list)
			t := sc.Targets[b.Target]
			s := &scene{field: fields[b.Target], band: bands[b.Filter].through(cam), ra: t.RA, dec: t.Dec}
			s.Target, s.Filter, s.Exposure, s.Start = t.Name, b.Filter, b.Exposure, starts[i]
			key := fmt.Sprintf("%s_%s_%gs", strings.ReplaceAll(t.Name, " ", "_"), b.Filter, b.Exposure)
			counts[key]++
			s.File = fmt.Sprintf("lights/%s/%s_%03d.fits", b.Filter, key, counts[key])
			s.BlurArcsec = blurs[i]
			seeing = 0.8*seeing + 0.02*rng.NormFloat64()
			s.conditions(sc, cam, i, seeing, rng)
			s.survey(sc, cam)
			list = append(list, s)
		}
	}
	return list
}
