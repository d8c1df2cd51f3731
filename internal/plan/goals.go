package plan

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// Progress is how far a goal has come. Times are h of clear sky, on the scale of the
// season's best night.
type Progress struct {
	Goal
	Tonight     stats.Value // clear hours of these nights
	Earlier     float64     // clear hours of earlier nights, from the ledger; NaN when it could not be read
	NeededTotal stats.Value // clear hours that meet the goal
	StillNeeded stats.Value // clear hours; 0 when it is met
	Nights      stats.Value // nights like these that this takes
	SNR         stats.Value // reached so far, for a goal in signal to noise
	Done        bool
	NeverUp     bool // the goal's place never comes above the site's horizon
	NotNow      bool // it does, but stays low in the dark hours of these nights: the Sun is near it
}

func (p *Plan) progress(in Input, opt Options) []Progress {
	var list []Progress
	for _, goal := range opt.Goals {
		list = append(list, p.towards(goal, in, opt))
	}
	return list
}

func (p *Plan) towards(goal Goal, in Input, opt Options) Progress {
	g := Progress{Goal: goal, Earlier: in.earlier(goal.Target, goal.Filter) / 3600,
		SNR: stats.Missing(GoalInHours), NeverUp: in.neverUp(goal), NotNow: in.notNow(goal)}
	g.Tonight = stats.Known(0, math.NaN(), 0)
	if y := p.yield(goal.Target, goal.Filter); y != nil {
		g.Tonight = stats.Known(y.Season/3600, math.NaN(), y.Subs)
		if math.IsNaN(y.Clear) {
			g.Tonight = stats.Missing(NoWeight)
		}
	}
	if in.EarlierUnknown != "" {
		unknown := stats.Missing(EarlierUnknown, fact.Text("error", in.EarlierUnknown))
		g.Earlier = math.NaN()
		g.NeededTotal, g.SNR, g.StillNeeded, g.Nights = stats.Known(goal.Hours, math.NaN(), 0), unknown, unknown, unknown
		if goal.SNR > 0 {
			g.NeededTotal = unknown
		}
		return g
	}
	done := g.Tonight.Or(0) + g.Earlier
	g.NeededTotal = stats.Known(goal.Hours, math.NaN(), 0)
	if goal.SNR > 0 {
		perHour := p.snrOfHour(goal, in, opt)
		g.SNR, g.NeededTotal = perHour, perHour
		if perHour.OK() {
			// Signal to noise grows with the root of clear time.
			g.SNR = perHour.Scaled(math.Sqrt(done))
			ratio := goal.SNR / perHour.V
			g.NeededTotal = stats.Known(ratio*ratio, math.NaN(), perHour.N)
		}
	}
	if !g.NeededTotal.OK() {
		g.StillNeeded, g.Nights = g.NeededTotal, g.NeededTotal
		return g
	}
	g.StillNeeded = stats.Known(math.Max(0, g.NeededTotal.V-done), math.NaN(), 0)
	g.Done = g.StillNeeded.V == 0
	if g.Nights = p.nightsFor(g); g.NeverUp && !g.Done {
		g.Nights = stats.Missing(NeverRises)
	} else if g.NotNow && !g.Done {
		g.Nights = stats.Missing(NotUpNow)
	}
	return g
}

// neverUp tells whether a goal's place, where that is given and the site is known, stays
// under the horizon: a place culminates 90° less its distance in declination high.
func (in Input) neverUp(goal Goal) bool {
	return in.Site != nil && (goal.RA != 0 || goal.Dec != 0) && math.Abs(in.Site.Lat-goal.Dec) >= 90
}

// lowInDark is the altitude in degrees under which nobody shoots a target (common practice,
// no source).
const lowInDark = 15

// notNow tells whether a goal's place stays low in all the dark of the night of the first
// sub: the Sun is in its part of the sky, and no night soon is like this one for it.
func (in Input) notNow(goal Goal) bool {
	if in.Site == nil || goal.RA == 0 && goal.Dec == 0 || math.Abs(in.Site.Lat-goal.Dec) > 90-2*lowInDark { // low all the year
		return false
	}
	for _, g := range in.Groups {
		for _, s := range g.Subs {
			if s.Start.IsZero() {
				continue
			}
			dark := sky.NightOf(in.Site, s.Start).Nautical
			return dark.Hours() > 0 && len(sky.Above(in.Site, dark, goal.RA, goal.Dec, lowInDark)) == 0
		}
	}
	return false
}

// nightsFor says how many nights like these the rest takes: at the pace of the
// goal's own target and filter, or, when they had no turn, of all clear time of these nights.
func (p *Plan) nightsFor(g Progress) stats.Value {
	if g.Done {
		return stats.Known(0, math.NaN(), 0)
	}
	pace := g.Tonight.Or(0)
	if pace == 0 {
		for _, y := range p.Yields {
			pace += stats.OrZero(y.Season) / 3600
		}
	}
	if pace == 0 || len(p.Nights) == 0 {
		return stats.Missing(NoClearTime)
	}
	dates := map[string]bool{}
	for _, n := range p.Nights {
		dates[n.Date] = true
	}
	return stats.Known(g.StillNeeded.V/pace*float64(len(dates)), math.NaN(), len(dates))
}

// snrOfHour is the signal to noise of the goal's patch after one clear hour of
// subs like these, under the sky of the season's best night.
func (p *Plan) snrOfHour(goal Goal, in Input, opt Options) stats.Value {
	var e *Exposure
	var g Group
	for i, x := range p.Exposures {
		if x.Target.Is(goal.Target) && x.Filter.Is(goal.Filter) && (e == nil || x.Sky.N > e.Sky.N) {
			e, g = &p.Exposures[i], in.Groups[i]
		}
	}
	switch {
	case e == nil:
		return stats.Missing(NoSubYet)
	case !e.Sky.OK():
		return e.Sky
	case !e.SkyArcsec.OK():
		return e.SkyArcsec
	case !e.ReadNoise.OK() || !(e.Current > 0):
		return stats.Missing(NoiseOrExposure)
	}
	object := e.Sky.V * goal.ObjectSkyPct / 100 // e-/s per pixel
	if goal.ObjectSkyPct == 0 {
		zp := zeroPoint(g, opt)
		if math.IsNaN(zp) {
			return stats.Missing(GoalNeedsZero)
		}
		area := e.Sky.V / e.SkyArcsec.V // arcsec² per pixel
		object = math.Pow(10, -0.4*(goal.ObjectMag-zp)) * area
	}
	patch := goal.AreaArcsec2
	if patch == 0 {
		patch = 100
	}
	pixels := patch * e.SkyArcsec.V / e.Sky.V
	aperture := ccd{Pixels: pixels, BackgroundPixels: math.Inf(1), Sky: e.Sky.V, Dark: e.Dark.Or(0),
		ReadNoise: e.ReadNoise.V, Gain: g.Calibration.Gain.Or(0)}
	one := aperture.snr(object*pixels, e.Current) * onSeason(g, goal)
	return stats.Known(one*math.Sqrt(3600/e.Current), math.NaN(), e.Sky.N)
}

// onSeason turns signal to noise of an hour under this night's sky into that of an hour
// of the season's best night, by which clear hours are counted. That night got 1/Light
// times the light; its noise variance was Share/Light² of this night's. An object in
// magnitudes is as bright under any sky and is counted without haze, so that its ratio
// differs by the noise alone; one that is given beside the sky is so many percent of
// the best night's.
func onSeason(g Group, goal Goal) float64 {
	light, share := g.Season.Light.V, g.Season.Share.V
	if !(light > 0) || !(share > 0) {
		return 1
	}
	noise := math.Sqrt(share) / light // of the best night, over this one's
	if goal.ObjectSkyPct > 0 {
		return noise // as many times the sky, over its root as the noise
	}
	return 1 / noise
}

func (p *Plan) yield(target, filter names.Name) *Yield {
	for i, y := range p.Yields {
		if y.Target.Is(target) && y.Filter.Is(filter) {
			return &p.Yields[i]
		}
	}
	return nil
}

func (in *Input) earlier(target, filter names.Name) float64 {
	sum := 0.0
	for _, e := range in.Earlier {
		if e.Target.Is(target) && e.Filter.Is(filter) {
			sum += stats.OrZero(e.ClearSeconds)
		}
	}
	return sum
}
