package plan

import (
	"math"
	"sort"

	"fitsqa/internal/calib"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
	"fitsqa/internal/worth"
)

// Shopping is calibration frames to shoot. Numbers that do not matter for the
// kind, or are unknown, are NaN.
type Shopping struct {
	Kind                       string     // "bias", "dark", "flat"
	Filter                     names.Name // flats only
	Frames                     int        // to shoot
	Have                       int        // frames that fit already
	Exposure                   float64    // s, darks only
	TempC                      float64    // °C, darks only
	GainSetting, OffsetSetting float64
	Binning                    int
	For                        []string // labels of the groups of subs
	Reason
}

// Reason is why frames are to be shot.
type Reason struct {
	Lack    Lack
	AtHand  *calib.Fit // NotFitting: those that there are, be it that none of them can be used
	Subs    int        // TooFew: that will be stacked
	Gain    Gain       // darks only
	GlowE   float64    // e-, GlowOff
	GainPct float64    // %, LessNoise
}

// Lack is a code for what is lacking.
type Lack string

// The lacks there are.
const (
	NoneThere  Lack = "none"
	NotFitting Lack = "not_fitting"
	TooFew     Lack = "too_few"
)

// Gain is a code for what darks are good for.
type Gain string

// The gains there are.
const (
	Untold    Gain = "untold" // with them it can be told
	GlowOff   Gain = "glow"
	LessNoise Gain = "noise"
)

// Bounds on the number of frames of a master (common practice, no source): a
// few make no robust mean; beyond the upper ones nobody goes.
const (
	fewestBias, mostBias = 20, 100
	fewestFlat, mostFlat = 15, 60
)

// defectMapDarks are enough to tell hot pixels from particle hits (common
// practice, no source).
const defectMapDarks = 10

// typicalFlat is the level of a flat where none was measured: half of a
// full well of 50 000 e- (common practice, no source).
const typicalFlat = 25000.0

// masterFrames is how many frames, each with the given variance per pixel
// relative to one sub's, a master needs so that it raises the noise of the mean of
// n subs by at most share. Undithered subs share one master's noise in full,
// v/M <= ((1+share)²-1)/n; dithered ones average it as they do their own.
func masterFrames(relativeVariance float64, n int, dithered bool, share float64) float64 {
	m := relativeVariance / ((1+share)*(1+share) - 1)
	if !dithered {
		m *= float64(n)
	}
	return m
}

func between(x float64, low, high int) int {
	return int(math.Min(float64(high), math.Max(float64(low), math.Ceil(x))))
}

// shop lists what is missing or too few for these subs, flats first: those cannot
// be made up for once camera or filter were touched.
func shop(groups []Group, opt Options) []Shopping {
	var list []Shopping
	for _, g := range groups {
		if g.Coverage == nil || g.Coverage.Lights == nil || g.Coverage.Lights.Processed() {
			continue
		}
		list = append(list, wantFlat(g, opt)...)
		list = append(list, wantBias(g, opt)...)
		list = append(list, wantDark(g)...)
	}
	list = merge(list)
	rank := map[string]int{"flat": 0, "bias": 1, "dark": 2}
	sort.SliceStable(list, func(i, j int) bool { return rank[list[i].Kind] < rank[list[j].Kind] })
	return list
}

func usable(g Group) int {
	n := 0
	for _, s := range g.Subs {
		if s.Verdict.Usable() {
			n++
		}
	}
	return n
}

// signalAndVariance of the background of one sub, e- and e-²; NaN when unknown.
func signalAndVariance(g Group) (signal, variance float64) {
	signal = skyRate(goodSubs(g.Group)).V * g.Exposure
	r := g.Calibration.ReadNoise.V
	return signal, signal + g.Calibration.DarkRate.Or(0)*g.Exposure + r*r
}

// dithered: shifts of a pixel rms and more make no two subs share the sensor's pattern.
func (g Group) dithered() bool { return g.DitherPx >= 1 }

func settled(w worth.Master) bool { return w.Verdict == worth.Enough || w.Verdict == worth.NotNeeded }

func wantBias(g Group, opt Options) []Shopping {
	if settled(g.Bias) {
		return nil
	}
	_, variance := signalAndVariance(g)
	want := fewestBias
	if r := g.Calibration.ReadNoise.V; !math.IsNaN(variance) {
		want = between(masterFrames(r*r/variance, usable(g), g.dithered(), opt.MasterShare), fewestBias, mostBias)
	}
	return g.lacking("bias", g.Coverage.Bias, want)
}

func wantFlat(g Group, opt Options) []Shopping {
	if settled(g.Flats) {
		return nil
	}
	signal, variance := signalAndVariance(g)
	want := fewestFlat
	if !math.IsNaN(variance) {
		level := g.FlatLevel
		if math.IsNaN(level) {
			level = typicalFlat
		}
		// The flat's shot noise, carried by the sky: signal²/level.
		want = between(masterFrames(signal*signal/level/variance, usable(g), g.dithered(), opt.MasterShare), fewestFlat, mostFlat)
	}
	flats := g.Coverage.Flat
	flats.Fits = flats.Fits || flats.Serves()
	return g.lacking("flat", flats, want)
}

func wantDark(g Group) []Shopping {
	w := g.Worth
	if g.Coverage.Lights.DarksAreBias() || w != nil && w.ScaledAs > 0 && sufficient(w.ScaledAs, w.Darks) {
		return nil
	}
	if w == nil || w.Reason == "" {
		list := g.lacking("dark", g.Coverage.Dark, defectMapDarks)
		for i := range list {
			list[i].Gain = Untold
		}
		return list
	}
	if w.Darks > 0 {
		list := g.lacking("dark", g.Coverage.Dark, w.Darks)
		for i := range list {
			list[i].gain(w)
		}
		return list
	}
	return nil
}

func (r *Reason) gain(w *worth.Answer) {
	if w.Reason == worth.Glow {
		r.Gain, r.GlowE = GlowOff, w.Without.Glow
		return
	}
	r.Gain, r.GainPct = LessNoise, w.BenefitPct.V
}

// sufficient tells that so many frames will do: a fifth too few is not worth a walk to the telescope.
func sufficient(have, want int) bool { return float64(have) >= 0.8*float64(want) }

// lacking is what has to be shot so that want frames fit; nothing when they do, or no sub
// is stacked.
func (g Group) lacking(kind string, m calib.Match, want int) []Shopping {
	if usable(g) == 0 {
		return nil
	}
	nan := math.NaN()
	l := g.Coverage.Lights
	s := Shopping{Kind: kind, Frames: want, Exposure: nan, TempC: nan,
		GainSetting: l.GainSetting, OffsetSetting: l.OffsetSetting, Binning: l.BinX, For: []string{g.Label}}
	switch kind {
	case "dark":
		s.Exposure, s.TempC = l.Exposure, l.SetTemp
	case "flat":
		s.Filter = l.Filter
	}
	switch {
	case m.Group == nil && m.Unusable.Code == "":
		s.Lack = NoneThere
	case m.Group == nil || !m.Fits:
		s.Lack, s.AtHand = NotFitting, &m.Fit
	default:
		if s.Have = m.Count; s.Have < 0 {
			return nil // a master, of how many frames nobody knows: enough
		}
		if sufficient(s.Have, want) {
			return nil
		}
		s.Frames = want - s.Have
		s.Lack, s.Subs = TooFew, usable(g)
	}
	return []Shopping{s}
}

// merge puts together what serves several groups.
func merge(list []Shopping) []Shopping {
	var out []Shopping
next:
	for _, s := range list {
		for i := range out {
			o := &out[i]
			if o.Kind == s.Kind && o.Filter == s.Filter && o.Binning == s.Binning && o.Have == s.Have &&
				stats.Same(o.Exposure, s.Exposure) && stats.Same(o.TempC, s.TempC) &&
				stats.Same(o.GainSetting, s.GainSetting) && stats.Same(o.OffsetSetting, s.OffsetSetting) {
				if s.Frames > o.Frames || s.Frames == o.Frames && s.Subs > o.Subs {
					o.Frames, o.Reason = s.Frames, s.Reason
				}
				o.For = append(o.For, s.For...)
				continue next
			}
		}
		out = append(out, s)
	}
	return out
}
