package subs

import (
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// A setting is odd when hardly any sub of the target's night has it and nearly
// all have one other: at most loneSubs and loneShare of them. Two subs of a
// second filter in a night of twenty are a plan; one in forty is a slip.
const (
	loneSubs     = 2
	loneShare    = 0.05
	enoughToTell = 8 // subs of a target before its night has a usual setting
)

// setting is one thing that subs of a target normally share.
type setting struct {
	name    string
	value   func(*Sub) string // "" when unknown
	verdict Verdict           // on a lone sub
	within  func(a, b *Sub) bool
}

var anySub = func(a, b *Sub) bool { return true }

var settings = []setting{
	{"gain", func(s *Sub) string { return number(s.GainSetting, "") }, Cull, anySub},
	{"offset", func(s *Sub) string { return number(s.OffsetSetting, "") }, Doubtful, anySub},
	{"binning", func(s *Sub) string {
		if s.Binning == 0 {
			return ""
		}
		return fmt.Sprint(s.Binning)
	}, Cull, anySub},
	{"size", func(s *Sub) string {
		if s.Width == 0 {
			return ""
		}
		return fmt.Sprintf("%d x %d", s.Width, s.Height)
	}, Cull, anySub},
	{"exposure", func(s *Sub) string { return number(s.Exposure, " s") }, Cull, func(a, b *Sub) bool { return a.Filter == b.Filter }},
}

func number(x float64, unit string) string {
	if math.IsNaN(x) {
		return ""
	}
	return fmt.Sprintf("%.3g%s", x, unit) // three digits: exposures that agree within 1 % mostly read alike
}

// wrongSettings finds the subs whose settings are unlike the rest of their
// target's night.
func wrongSettings(all []*Sub) map[*Sub]Finding {
	odd := map[*Sub]Finding{}
	nights := map[[2]names.Name][]*Sub{}
	for _, s := range inTimeOrder(all) {
		key := [2]names.Name{s.Camera, s.Target}
		nights[key] = append(nights[key], s)
	}
	note := func(s *Sub, f Finding) {
		if f.Severity > odd[s].Severity {
			odd[s] = f
		}
	}
	for _, night := range nights {
		for _, set := range settings {
			values := set.values(night)
			for i, s := range night {
				note(s, set.judge(i, night, values))
			}
		}
		for i, s := range night {
			note(s, loneFilter(i, night))
		}
	}
	return odd
}

// values are those of some subs; nil where none differs from the others.
func (set setting) values(night []*Sub) []string {
	all := make([]string, len(night))
	for i, s := range night {
		all[i] = set.value(s)
	}
	if len(slices.Compact(slices.Clone(all))) < 2 {
		return nil
	}
	return all
}

// judge one sub's setting against those that it should share.
func (set setting) judge(i int, night []*Sub, values []string) Finding {
	if values == nil || values[i] == "" {
		return Finding{}
	}
	s, own := night[i], values[i]
	count := map[string]int{}
	total, usual := 0, ""
	for k, o := range night {
		if v := values[k]; v != "" && set.within(s, o) {
			total++
			if count[v]++; usual == "" || count[v] > count[usual] {
				usual = v
			}
		}
	}
	if total < enoughToTell || !lone(count[own], total) || count[usual] < total*3/4 {
		return Finding{}
	}
	return Finding{WrongSettings, set.verdict, map[Verdict]float64{Doubtful: 1, Cull: certain - 1}[set.verdict],
		[]fact.Fact{fact.Of(OddSetting, fact.Text("setting", set.name), fact.Text("value", own), fact.Count("others", count[usual]), fact.Count("subs", total), fact.Text("usual", usual))}}
}

func lone(n, total int) bool {
	return n <= loneSubs && float64(n) <= math.Max(1, loneShare*float64(total))
}

// loneFilter is a single sub through another filter than the three before and
// the three after it, and the only one of its filter: the wheel was wrong.
func loneFilter(i int, night []*Sub) Finding {
	const side = 3
	if i < side || i+side >= len(night) || len(night) < enoughToTell {
		return Finding{}
	}
	s, around := night[i], night[i-1].Filter
	for j, o := range night {
		if j != i && (o.Filter == s.Filter || j >= i-side && j <= i+side && o.Filter != around) {
			return Finding{}
		}
	}
	return Finding{WrongSettings, Doubtful, 1, []fact.Fact{fact.Of(LoneFilter, fact.Name("filter", s.Filter), fact.Name("usual", around))}}
}

// tempReadout is how finely headers tell a temperature, °C: 2.0 off is not
// beyond a limit of 2, however the difference was rounded.
const tempReadout = 0.05

// warmSensor looks for a sensor off the temperature that it was set to while
// the group's other subs keep to theirs: the darks then leave a pattern. What
// noise the warmth adds is judged as noise, and a sensor that is not regulated,
// or does not reach its set point all night, only asks for darks of its own
// temperatures.
func (e *evidence) warmSensor() Finding {
	off := math.Abs(e.SensorTemp - e.SetTemp)
	if !(off > e.lim.TemperatureDoubtful+tempReadout) || !(math.Abs(e.base.SensorTemp-e.SetTemp) <= e.lim.TemperatureDoubtful) {
		return Finding{}
	}
	adds := e.warmthAdds()
	if adds < warmthCounts {
		return Finding{}
	}
	facts := []fact.Fact{fact.Of(SensorOff, fact.Number("sensor_c", e.SensorTemp), fact.Number("off_c", off), fact.Number("set_c", e.SetTemp))}
	if !math.IsNaN(adds) {
		facts = append(facts, fact.Of(WarmthAdds, fact.Number("share", adds)))
	}
	return Finding{WrongSettings, Doubtful, 1, append(facts, limited(e.lim.TemperatureDoubtful))}
}

const (
	soonestDoubled = 5.0  // °C in which a dark current doubles at the least (common practice, no source)
	warmthCounts   = 0.02 // of the noise's variance, under which nothing is seen of it: a hundredth of the noise
)

// warmthAdds is at most what a dark current other than the group's adds to a sub's
// noise variance, as a share of it: its own noise, which a colder sensor has less of, and a
// pattern as large as what darks of the group's temperature leave, of either sign.
// NaN where the dark current or the gain is unknown.
func (e *evidence) warmthAdds() float64 {
	dark := e.DarkRate.V + 2*e.DarkRate.KnownErr()
	if !(dark > 0) || !(e.ElectronsPerADU > 0) || !e.RandomNoise.OK() {
		return math.NaN()
	}
	extra := e.warmth(dark, soonestDoubled)
	return (extra + extra*extra) / square(e.RandomNoise.V*e.ElectronsPerADU)
}

// warmth is how many electrons a sub has from a dark current beyond those that it has
// at the group's temperature, where it doubles in so many °C: of a colder sensor less than
// none, but no more than all of them.
func (e *evidence) warmth(dark, doubled float64) float64 {
	return dark * e.Exposure * (math.Exp2((e.SensorTemp-e.base.SensorTemp)/doubled) - 1)
}

// noteTemperature says so where the group's sensor was at many temperatures.
func (g *Group) noteTemperature(lim Limits) {
	temp := func(s *Sub) float64 { return s.SensorTemp }
	lo, hi := quantile(g.Subs, 0, temp), quantile(g.Subs, 1, temp)
	set := quantile(g.Subs, 0.5, func(s *Sub) float64 { return s.SetTemp })
	middle := quantile(g.Subs, 0.5, temp)
	switch within := lim.TemperatureDoubtful + tempReadout; {
	case math.Abs(middle-set) > within:
		g.Notes = append(g.Notes, fact.Of(SensorRange, fact.Number("from_c", lo), fact.Number("to_c", hi), fact.Number("set_c", set)))
	case math.IsNaN(set) && hi-lo > within:
		g.Notes = append(g.Notes, fact.Of(SensorDrift, fact.Number("from_c", hi), fact.Number("to_c", lo)))
	}
}
