package night

import (
	"context"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// weighCalibration asks for every judged group of subs whether darks, bias
// frames and flats are worth it.
func (r *Result) weighCalibration(ctx context.Context, known *memory, groups []judgedGroup) {
	var all []*worth.Input
	for _, g := range groups {
		c := g.calibration
		if why := g.skyRate.Why; c.DarkTaken && why.Code == SkyBelowOffset {
			r.warn(DarksAboveSubs, append([]fact.Value{fact.Text("group", g.Label)}, why.Values...)...)
			r.First = append(r.First, r.Warnings[len(r.Warnings)-1])
		}
		in := &worth.Input{
			Label: g.Label, Camera: sensor.ModeOf(g.lights), Subs: usable(g.Subs), Season: usable(g.Subs) + r.earlierSubs(g),
			Exposure: g.Exposure, TempC: sensor.TemperatureOf(g.lights),
			SkyRate: g.skyRate, SkyAndDark: !c.DarkTaken && !c.DarkRate.OK(), Gain: c.Gain, ReadNoise: c.ReadNoise,
			Saturation: c.Saturation, DarkRate: c.DarkRate, DarkCarried: c.Warmth.Carried, Sets: r.Calib.Sets,
			Dark: r.Calib.DarkSetFor(g.lights), Bias: r.Calib.BiasSetFor(g.lights), Flat: r.Calib.FlatSetFor(g.lights),
			DarkFits: g.coverage.Dark.Fits, DarksBeside: g.coverage.Dark.Beside,
			DarkSpread: darkSpread(g), DarkScales: g.coverage.Dark.Serves() && g.coverage.Bias.Fits, BiasFits: g.coverage.Bias.Fits, Places: g.places(), DitherPx: g.ditherPx,
		}
		if m := g.coverage.Dark; m.Fits && m.Master {
			in.MasterDarks = max(m.Count, 0)
		}
		r.lookAtSensor(ctx, known, g, in)
		all = append(all, in)
	}
	worth.ShareGlow(all)
	for _, in := range all {
		darks := worth.OfDarks(*in)
		r.Worth = append(r.Worth, darks)
		r.MasterWorth = append(r.MasterWorth, worth.OfBias(*in, darks), worth.OfFlats(*in))
	}
	worth.NoteBenefits(r.Calib.Sets, r.Worth)
}

// steady is by how many °C the sensor of a cooled camera wanders at most (common practice, no
// source): the darks that go with them wander alike.
const steady = 1

// darkSpread is the share by which the dark current differs among a group's usable subs; 0 where
// the sensor is held at its temperature, or nothing tells it.
func darkSpread(g judgedGroup) float64 {
	var all []float64
	for _, s := range g.Subs {
		if s.Verdict.Usable() && !math.IsNaN(s.SensorTemp) {
			all = append(all, s.SensorTemp)
		}
	}
	if len(all) < 2 || !(slices.Max(all)-slices.Min(all) > 2*steady) {
		return 0
	}
	return g.calibration.Warmth.Spread(all)
}

// earlierSubs is how many subs like these the clear hours of earlier nights
// were; what the ledger holds of the nights at hand is not counted twice.
func (r *Result) earlierSubs(g judgedGroup) int {
	here := map[string]bool{}
	for _, s := range g.Subs {
		if !s.Start.IsZero() {
			here[sky.NightDate(s.Start, r.NightSite())] = true
		}
	}
	seconds := 0.0
	for _, e := range r.Settings.Earlier {
		if !here[e.Date] && e.Target.Is(g.Target) && e.Filter.Is(g.Filter) {
			seconds += max(e.ClearSeconds, 0)
		}
	}
	if !(g.Exposure > 0) {
		return 0
	}
	return int(seconds / g.Exposure)
}

// usable counts the subs that are not culled.
func usable(all []*subs.Sub) int {
	n := 0
	for _, s := range all {
		if s.Verdict.Usable() {
			n++
		}
	}
	return n
}
