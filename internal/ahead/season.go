package ahead

import (
	"math"
	"slices"
	"sort"

	"fitsqa/internal/ledger"
	"fitsqa/internal/names"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Season is what plans are made from.
type Season struct {
	Subs   []ledger.Sub        // of every night
	Hours  []ledger.Hours      // clear time so far
	Camera []sensor.Remembered // figures of the cameras
}

// Targets are those of the goals, or, where there is none, those that were shot;
// in the order of their names. Coordinates are the median of the pointings of a
// target's subs with the set-up that shot it last, or the goal's own; unplaced are
// targets that have neither.
func (s Season) Targets(opt plan.Options, site *sky.Site) (targets []Target, unplaced []names.Name) {
	byKey := map[names.Key]*Target{}
	add := func(target, filter names.Name) *Filter {
		key := target.Key()
		t := byKey[key]
		if t == nil {
			t = &Target{Name: target, RA: math.NaN(), Dec: math.NaN()}
			byKey[key] = t
		}
		for i := range t.Filters {
			if t.Filters[i].Name.Is(filter) {
				return &t.Filters[i]
			}
		}
		t.Filters = append(t.Filters, s.filter(target, filter, opt, site))
		return &t.Filters[len(t.Filters)-1]
	}
	for _, g := range opt.Goals {
		add(g.Target, g.Filter).GoalHours = g.Hours
		if g.RA != 0 || g.Dec != 0 {
			t := byKey[g.Target.Key()]
			t.RA, t.Dec = g.RA, g.Dec
		}
	}
	if len(opt.Goals) == 0 {
		for _, h := range s.Hours {
			add(h.Target, h.Filter)
		}
	}
	for _, t := range byKey {
		if math.IsNaN(t.RA) {
			t.RA, t.Dec = s.pointing(t.Name, site)
		}
		if math.IsNaN(t.RA) || math.IsNaN(t.Dec) {
			unplaced = append(unplaced, t.Name)
			continue
		}
		targets = append(targets, *t)
	}
	sort.Slice(targets, func(i, j int) bool { return targets[i].Name < targets[j].Name })
	slices.Sort(unplaced)
	return targets, unplaced
}

// of are the subs of a target through a filter; "" for all filters.
func (s Season) of(target, filter names.Name) []ledger.Sub {
	var list []ledger.Sub
	for _, sub := range s.Subs {
		if sub.Target.Is(target) && (filter == "" || sub.Filter.Is(filter)) {
			list = append(list, sub)
		}
	}
	return list
}

// pointing is the median of a target's pointings, right ascension as an angle
// from the first, since 0 h follows 24 h. Another camera was framed in its own way;
// from where a target was shot is no matter.
func (s Season) pointing(target names.Name, site *sky.Site) (ra, dec float64) {
	pointed := slices.DeleteFunc(s.of(target, ""), func(sub ledger.Sub) bool { return math.IsNaN(sub.RA) || math.IsNaN(sub.Dec) })
	used := comparable(site, pointed)
	if len(used) == 0 {
		used = oneSetUp(pointed)
	}
	var offsets, decs []float64
	first := math.NaN()
	for _, sub := range used {
		if math.IsNaN(first) {
			first = sub.RA
		}
		offsets = append(offsets, math.Remainder(sub.RA-first, 360))
		decs = append(decs, sub.Dec)
	}
	if len(decs) == 0 {
		return math.NaN(), math.NaN()
	}
	return math.Mod(first+stats.Median(offsets)+360, 360), stats.Median(decs)
}

func (s Season) filter(target, name names.Name, opt plan.Options, site *sky.Site) Filter {
	f := Filter{Name: name, PixelScale: math.NaN(), ReadNoise: math.NaN(), LastExposure: math.NaN(), Gap: gap(nil)}
	f.WavelengthNM, f.Known = wavelength(name, opt)
	for _, h := range s.Hours {
		if h.Target.Is(target) && h.Filter.Is(name) && !math.IsNaN(h.Clear) {
			f.HaveHours += h.Clear / 3600
		}
	}
	shot := s.of(target, name)
	here := comparable(site, shot)
	f.Sky = measuredSky(site, here, f.WavelengthNM)
	if len(here) == 0 {
		here = oneSetUp(shot) // the exposure that it had elsewhere
	}
	if len(here) > 0 {
		last := here[len(here)-1]
		f.PixelScale, f.ReadNoise, f.LastExposure, f.Gap = last.Scale, s.readNoise(last.Camera), last.Exposure, gap(here)
	}
	return f
}

// gap is the usual time between subs.
func gap(shot []ledger.Sub) stats.Value {
	list := make([]*subs.Sub, len(shot))
	for i, s := range shot {
		list[i] = &subs.Sub{Start: s.Start, Exposure: s.Exposure}
	}
	return plan.UsualGap(list)
}

// readNoise of a camera, e-, the latest known.
func (s Season) readNoise(camera names.Name) float64 {
	noise, night := math.NaN(), ""
	for _, r := range s.Camera {
		if r.Camera.Is(camera) && r.Metric == "read_noise_e" && r.Night >= night {
			noise, night = r.Value.V, r.Night
		}
	}
	return noise
}

// wavelength is the middle of a filter's band: the user's word, else what its
// name says, else that of a broad band.
func wavelength(name names.Name, opt plan.Options) (nm float64, known bool) {
	for _, f := range opt.Filters {
		if f.Name.Is(name) && f.WavelengthNM > 0 {
			return f.WavelengthNM, true
		}
	}
	if f, usual := plan.UsualFilter(name); usual {
		return f.NM, true
	}
	return 550, slices.Contains([]names.Key{"", "clear", "none", "v"}, name.Key())
}

// oneSite is how far apart coordinates of one site may be, degrees: a sky is much
// the same over 10 km.
const oneSite = 0.1

// comparable are the subs whose sky can be set beside the next one's: shot from the
// site, as far as they tell, and with the set-up of the latest of them, since what
// another one counts under the same sky is another rate.
func comparable(site *sky.Site, shot []ledger.Sub) []ledger.Sub {
	return oneSetUp(slices.DeleteFunc(slices.Clone(shot), func(s ledger.Sub) bool {
		return math.Abs(s.Lat-site.Lat) > oneSite || math.Abs(math.Remainder(s.Lon-site.Lon, 360)) > oneSite
	}))
}

// oneScale is by which fraction the scales of one telescope differ: temperature and
// the solution on the sky make less, another reducer more.
const oneScale = 0.03

// oneSetUp are the subs with camera and telescope of the latest, as far as they tell;
// in the order of time, as they come.
func oneSetUp(shot []ledger.Sub) []ledger.Sub {
	if len(shot) == 0 {
		return nil
	}
	last := shot[len(shot)-1]
	return slices.DeleteFunc(slices.Clone(shot), func(s ledger.Sub) bool {
		return !s.Camera.Is(last.Camera) || math.Abs(s.Scale/last.Scale-1) > oneScale
	})
}

// fewMoonless is how many subs without the Moon tell the dark sky by themselves.
const fewMoonless = 5

// measuredSky is the moonless sky that subs of a filter tell: the median of the
// nights' medians over subs that were kept, shot without the Moon and with the
// Sun below -18°. Where there are too few of these, the model takes the Moon's
// light off the others.
func measuredSky(site *sky.Site, shot []ledger.Sub, nm float64) Sky {
	for _, moonlessOnly := range []bool{true, false} {
		rates, mags, n := nightly(site, shot, nm, moonlessOnly)
		if n < fewMoonless && moonlessOnly || n == 0 {
			continue
		}
		s := Sky{Rate: stats.Median(rates), Mag: AssumedMag}
		if len(mags) > 0 {
			s.Mag, s.Nights = stats.Median(mags), len(mags)
			s.MagErr = math.Max(stats.MADSigma(mags), leastScatter)
		} else {
			s.MagErr = 1
		}
		return s
	}
	return Sky{Rate: math.NaN(), Mag: AssumedMag, MagErr: 1}
}

// leastScatter of a site's sky from night to night, mag (common practice, no
// source): one night does not show it.
const leastScatter = 0.15

// nightly are the medians of each night's sky rates and, where zero points are
// known, magnitudes, and how many subs they rest on.
func nightly(site *sky.Site, shot []ledger.Sub, nm float64, moonlessOnly bool) (rates, mags []float64, n int) {
	rate, mag := map[string][]float64{}, map[string][]float64{}
	for _, s := range shot {
		if s.Verdict == string(subs.Cull) || !(s.Sky > 0) {
			continue
		}
		c := sky.At(site, s.Start, s.RA, s.Dec)
		if c.SunAlt.V > sky.AtAstronomical || moonlessOnly && c.MoonAlt.V > 0 {
			continue
		}
		brightened := 1.0
		if c.MoonAlt.V > 0 {
			if !c.MoonlightNL.OK() {
				continue
			}
			brightened = withMoon(s.SkyMag, c, nm)
		}
		n++
		rate[s.Night] = append(rate[s.Night], s.Sky/brightened)
		if !math.IsNaN(s.SkyMag) {
			mag[s.Night] = append(mag[s.Night], s.SkyMag+2.5*math.Log10(brightened))
		}
	}
	return medians(rate), medians(mag), n
}

// withMoon is by how much the Moon brightened a sky, from the model and the sky
// as it was with the Moon (assumed, where that has no magnitude).
func withMoon(skyMag float64, c sky.Conditions, nm float64) float64 {
	moonlight := c.MoonlightNL.V * sky.MoonColour(nm, c.MoonSeparation.V)
	if math.IsNaN(skyMag) {
		return 1 + moonlight/sky.NLFromMag(AssumedMag)
	}
	all := sky.NLFromMag(skyMag)
	return all / math.Max(all-moonlight, all/20) // the model must not take away more than there is
}

func medians(byNight map[string][]float64) []float64 {
	var list []float64
	for _, v := range byNight {
		list = append(list, stats.Median(v))
	}
	slices.Sort(list)
	return list
}
