package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

func (f *flatRun) set(cs *Cameras) *Set {
	s := newSet(f.group, f.Series, f.why)
	if !s.Measured {
		return s
	}
	m := cs.modeOf(f.group)
	levels := f.rawLevels()
	level := stats.Median(levels)
	share := stats.Missing(LevelButUnknown, fact.Number("level_adu", stats.Significant(level, 5)), fact.Reason(fact.Of(SaturationUnknown)))
	if !math.IsNaN(m.saturation) {
		share = stats.Known(level/m.saturation, spanOf(levels)/m.saturation/math.Sqrt(12), len(levels))
	}
	s.Flat = f.detail
	out := s.Flat
	out.Level = figure(share, notes(f.lone, f.levelNote(m))...)
	out.Saturated = figure(f.saturated(m.saturation))
	gain := f.gain()
	how := GainByPairs
	if f.readVarErr > 0 {
		how = GainByFlats
	}
	out.Gain = figure(gain, fact.Of(how, fact.Detail("offset_from", f.offsetFrom)))
	var dark fact.Fact
	if f.ownDark {
		dark = fact.Of(DarkInFlats, fact.Number("exposure_s", f.group.Exposure))
	}
	out.Response = figure(bent(f.prnu, m), notes([]fact.Fact{dark}, f.deadNote())...)
	corners := f.detail.CornerPct
	out.CornerFalloff = figure(bent(f.corner, m), notes([]fact.Fact{dark}, []fact.Fact{fact.Of(Corners, fact.Number("lower_left_pct", corners[0]), fact.Number("lower_right_pct", corners[1]),
		fact.Number("upper_left_pct", corners[2]), fact.Number("upper_right_pct", corners[3]))})...)
	out.Dust = figure(f.shadowN, shadowNote(f.detail.Shadows)...)
	var drift []fact.Fact
	if d := f.detail.DriftPct; d.OK() {
		drift = append(drift, fact.Of(FlatsDrift, fact.Number("drift_pct", d.V)))
	}
	out.Flicker = figure(f.flicker, drift...)
	out.SNR = figure(f.snr, fact.Of(OfMasterPixel))
	f.warn(s, m)
	return s
}

// bent adds to the error of a share of the light what a response that bends may make of
// it: of S = L - a L² the variance for the light falls by 3 a L, shares of the light by a L.
func bent(share stats.Value, m *mode) stats.Value {
	share.Err = math.Hypot(share.Err, share.V*m.bendPct/300)
	return share
}

// deadNote names the pixels that hardly answer to light.
func (f *flatRun) deadNote() []fact.Fact {
	n := len(f.detail.Dead)
	if n == 0 {
		return []fact.Fact{fact.Of(NoDeadPixels)}
	}
	first := f.detail.Dead[0]
	all := []fact.Fact{fact.Of(DeadPixels, fact.Count("pixels", n), fact.Count("x", first.X), fact.Count("y", first.Y))}
	for _, p := range f.detail.Dead[1:min(n, listed)] {
		all = append(all, fact.Of(DeadPixelAt, fact.Count("x", p.X), fact.Count("y", p.Y)))
	}
	if n > listed {
		all = append(all, fact.Of(AndMore, fact.Count("more", n-listed)))
	}
	return all
}

// listed is how many dead pixels and shadows a note lists.
const listed = 5

// rawLevels are the levels of all flats, offset included, ADU.
func (f *flatRun) rawLevels() []float64 {
	var levels []float64
	for _, s := range f.shots {
		levels = append(levels, s.level)
	}
	return levels
}

func (f *flatRun) levelNote(m *mode) []fact.Fact {
	levels := f.rawLevels()
	note := []fact.Fact{fact.Of(LevelOf, fact.Number("level_adu", stats.Median(levels)), fact.Number("saturation_adu", m.saturation))}
	if lo, hi := slices.Min(levels), slices.Max(levels); hi > pairRange*lo {
		note = append(note, fact.Of(LevelsFromTo, fact.Number("from_adu", lo), fact.Number("to_adu", hi), fact.Count("flats", len(f.Frames))))
	}
	return note
}

func (f *flatRun) saturated(saturation float64) stats.Value {
	if math.IsNaN(saturation) {
		return stats.Known(0, 0, len(f.shots)) // none piles up
	}
	var at float64
	from := math.Ceil((saturation - f.rawUnit.Zero) / f.rawUnit.Step)
	for i := max(0, int(from)); i < len(f.raw.Counts); i++ {
		at += float64(f.raw.Counts[i])
	}
	n := float64(f.raw.N())
	p := at / n
	return stats.Known(p, math.Sqrt(p*(1-p)/n), len(f.shots))
}

// gain is the mean over the set's pairs, weighted by their errors.
func (f *flatRun) gain() stats.Value {
	if len(f.points) == 0 {
		return stats.Missing(GainNeedsPair)
	}
	return weightedGain(f.points)
}

func (f *flatRun) warn(s *Set, m *mode) {
	level := stats.Median(f.rawLevels())
	sat := f.saturated(m.saturation).V
	s.warnTemperature(f.Series, FlatsOffSetPoint)
	switch {
	case level > fitUpTo*m.saturation:
		s.warn(FlatsBright, fact.Number("level_pct", 100*level/m.saturation))
	case level < 0.1*m.saturation:
		s.warn(FlatsFaint, fact.Number("level_pct", 100*level/m.saturation))
	}
	if sat > 1e-4 && level <= fitUpTo*m.saturation {
		s.warn(FlatsSaturated, fact.Number("saturated_pct", 100*sat))
	}
	if f.offsetFrom.Code == "" {
		s.warn(FlatsNoOffset)
	}
	if f.flicker.OK() && f.flicker.V > 1 {
		s.warn(LightFlickers, fact.Number("flicker_pct", f.flicker.V))
	}
	if w, harms := f.shutterWarning(); harms {
		s.Warnings = append(s.Warnings, w)
	}
	if share := 100 * f.detail.Unlit; share > 0.5 {
		s.warn(FlatsUnlit, fact.Number("unlit_pct", share))
	}
	if f.snr.OK() && f.snr.V < 200 {
		s.warn(FlatsFew, fact.Number("snr", f.snr.V), fact.Number("flats", math.Ceil(float64(len(f.Frames))*math.Pow(500/f.snr.V, 2))))
	}
}

func shadowNote(shadows []dust.Shadow) []fact.Fact {
	var all []fact.Fact
	for _, s := range shadows[:min(len(shadows), listed)] {
		at := fact.Of(ShadowAt, fact.Number("x", s.X), fact.Number("y", s.Y), fact.Number("diameter_px", s.Diameter), fact.Number("depth_pct", s.DepthPct))
		if s.On != "" {
			at.Code, at.Values = ShadowSeatedAt, append(at.Values, fact.Text("on", s.On))
		}
		all = append(all, at)
	}
	if more := len(shadows) - listed; more > 0 {
		all = append(all, fact.Of(AndMore, fact.Count("more", more)))
	}
	return all
}
