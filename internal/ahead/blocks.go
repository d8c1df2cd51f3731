package ahead

import (
	"slices"

	"fitsqa/internal/plan"
	"fitsqa/internal/sky"
)

func blocks(n *Night, targets []Target, options []option, slots []slot, chosen []int, opt Options) []Block {
	var all []Block
	still := make([]float64, len(options))
	for i, o := range options {
		still[i] = o.wants * slotLength.Hours()
	}
	for s := 0; s < len(chosen); {
		e := s
		for e < len(chosen) && chosen[e] == chosen[s] {
			e++
		}
		if o := chosen[s]; o != idle {
			b := block(n, targets[options[o].target], targets[options[o].target].Filters[options[o].filter], slots[s:e], o, opt)
			b.StillHours = still[o]
			still[o] -= b.Speed * b.Span.Hours()
			all = append(all, b)
		}
		s = e
	}
	return all
}

func block(n *Night, target Target, f Filter, slots []slot, o int, opt Options) Block {
	b := Block{Target: target.Name, Filter: f.Name,
		Span: sky.Span{Start: slots[0].start, End: slots[len(slots)-1].start.Add(slotLength)}}
	var ratios []float64
	moon := 0
	for _, s := range slots {
		ratios = append(ratios, s.levels[o].ratio)
		b.Speed += s.levels[o].speed / float64(len(slots))
		if s.levels[o].moon {
			moon++
		}
	}
	slices.Sort(ratios)
	ratio := ratios[len(ratios)/2]
	b.Moon = 2*moon > len(slots)
	b.SkyMag, b.SkyMagErr = f.expected(ratio)
	b.Exposure, b.Asked = f.exposure(ratio, opt)
	for _, t := range n.Targets {
		if t.Target != target.Name {
			continue
		}
		b.Span = b.Span.Within(t.Up) // slots reach over its ends by half their length at most
		if !t.Transit.Before(b.Span.Start) && t.Transit.Before(b.Span.End) {
			b.Flip = t.Transit
		}
	}
	return b
}

// mostLonger is how many times as long as the last one an exposure is advised at most:
// whether mount and weather bear more than that nobody has seen yet.
const mostLonger = 2

// exposure for a sky so many times as bright as the moonless one: what was shot
// last, unless more is asked for, by the rule of every night's advice; NaN where neither
// is known.
func (f Filter) exposure(ratio float64, opt Options) (set, asked float64) {
	rate := f.Sky.Rate * ratio * f.PixelScale * f.PixelScale
	if !(rate > 0 && f.ReadNoise > 0) {
		return f.LastExposure, f.LastExposure
	}
	least := plan.LeastAdvised(f.ReadNoise, rate, f.LastExposure, f.Gap, plan.Options{ReadNoiseShare: opt.ReadNoiseShare, MaxExposure: opt.MaxExposure})
	if !(f.LastExposure > 0) {
		return least, least
	}
	asked = max(f.LastExposure, least)
	return min(asked, mostLonger*f.LastExposure), asked
}
