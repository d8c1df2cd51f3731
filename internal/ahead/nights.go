package ahead

import (
	"math"
	"time"

	"fitsqa/internal/sky"
)

// Plan plans the nights from the one that t falls into. Targets without
// coordinates must have been left out by the caller.
func Plan(site *sky.Site, t time.Time, targets []Target, opt Options) []Night {
	var nights []Night
	for range opt.Nights {
		n := sky.NightOf(site, t)
		nights = append(nights, nightOf(site, n, targets, opt))
		t = n.Start.Add(36 * time.Hour)
	}
	schedule(site, nights, targets, opt)
	return nights
}

func nightOf(site *sky.Site, n sky.Night, targets []Target, opt Options) Night {
	night := Night{Date: n.Date, Sun: n.Sun, Dark: n.Astron}
	if night.Dark.Hours() == 0 && n.Nautical.Hours() > 0 {
		night.Dark, night.Nautical = n.Nautical, true
	}
	night.DarkHours = night.Dark.Hours()
	middle := n.Start.Add(n.End.Sub(n.Start) / 2)
	if night.DarkHours > 0 {
		middle = night.Dark.Start.Add(night.Dark.End.Sub(night.Dark.Start) / 2)
		night.MoonUp = sky.MoonUp(site, night.Dark)
		night.Moonless = night.Dark.Without(night.MoonUp)
	}
	night.MoonLit = sky.At(site, middle, 0, 0).MoonLitPct.V
	for _, target := range targets {
		night.Targets = append(night.Targets, stand(site, night, middle, target, opt.MinAltitude))
	}
	return night
}

func stand(site *sky.Site, night Night, middle time.Time, target Target, least float64) TargetNight {
	t := TargetNight{Target: target.Name, BestAltitude: math.NaN(), BestAirmass: math.NaN(),
		Transit: sky.Transit(site, middle, target.RA, target.Dec)}
	t.Up = upWithin(site, night.Dark, target, least)
	t.Hours = t.Up.Hours()
	when := middle
	if t.Hours > 0 {
		t.Moonless = t.Up.Without(night.MoonUp)
		best := sky.At(site, highest(t.Up, t.Transit), target.RA, target.Dec)
		t.BestAltitude, t.BestAirmass = best.TargetAlt.V, best.Airmass.V
		when = t.Up.Start.Add(t.Up.End.Sub(t.Up.Start) / 2)
	}
	t.MoonSeparation = sky.At(site, when, target.RA, target.Dec).MoonSeparation.V
	t.Curve = curve(site, night.Sun, target)
	return t
}

// highest is the time within a span at which a target stands highest: its
// meridian crossing, or the end that is next to it.
func highest(up sky.Span, transit time.Time) time.Time {
	switch {
	case transit.Before(up.Start):
		return up.Start
	case transit.After(up.End):
		return up.End
	}
	return transit
}

// upWithin is the longest stretch of a span in which the target stands above an
// altitude; a target that sets and rises again within one night has two.
func upWithin(site *sky.Site, span sky.Span, target Target, least float64) sky.Span {
	var longest sky.Span
	for _, s := range sky.Above(site, span, target.RA, target.Dec, least) {
		if s.Hours() > longest.Hours() {
			longest = s
		}
	}
	return longest
}

const curveStep = 30 * time.Minute

func curve(site *sky.Site, span sky.Span, target Target) []Point {
	var points []Point
	for t := span.Start.Truncate(curveStep); t.Before(span.End); t = t.Add(curveStep) {
		c := sky.At(site, t, target.RA, target.Dec)
		points = append(points, Point{t, c.TargetAlt.V, c.Airmass.V, c.MoonAlt.V, c.MoonSeparation.V, c.MoonlightMag.V})
	}
	return points
}
