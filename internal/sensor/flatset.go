package sensor

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// set writes the figures down.
func (f *flatRun) set(cs *Cameras) *Set {
	s := newSet(f.group, f.why)
	if f.Series != nil {
		s.Warnings = f.Warnings
	}
	if !f.ok() {
		return s
	}
	m := cs.modeOf(f.group)
	levels := f.rawLevels()
	level := stats.Median(levels)
	share := stats.Missing(fmt.Sprintf("%.0f ADU, but %s", level, notKnown))
	if !math.IsNaN(m.saturation) {
		share = stats.Known(level/m.saturation, spanOf(levels)/m.saturation/math.Sqrt(12), len(levels))
	}
	s.Flat, s.Measured = f.detail, true
	out := s.Flat
	out.Level = figure(share, join(f.lone, f.levelNote(m)))
	out.Saturated = figure(f.saturated(m.saturation), "")
	gain := f.gain()
	out.Gain = figure(gain, "two flats and two bias frames; offset from "+f.offsetFrom)
	out.Response = figure(f.prnu, f.deadNote())
	out.CornerFalloff = figure(f.corner, fmt.Sprintf("lower left %.1f, lower right %.1f, upper left %.1f, upper right %.1f",
		f.detail.CornerPct[0], f.detail.CornerPct[1], f.detail.CornerPct[2], f.detail.CornerPct[3]))
	out.Dust = figure(f.shadowN, shadowNote(f.detail.Shadows))
	note := ""
	if d := f.detail.DriftPct; d.OK() {
		note = fmt.Sprintf("level drifts by %+.2g %% over the set", d.V)
	}
	out.Flicker = figure(f.flicker, note)
	out.SNR = figure(f.snr, "a pixel of the master")
	f.warn(s, m)
	return s
}

// deadNote names the pixels that hardly answer to light.
func (f *flatRun) deadNote() string {
	n := len(f.detail.Dead)
	if n == 0 {
		return "no dead pixels"
	}
	var words []string
	for _, p := range f.detail.Dead[:min(n, 5)] {
		words = append(words, fmt.Sprintf("%d,%d", p.X, p.Y))
	}
	note := fmt.Sprintf("%s with less than half the light of their surroundings, at %s", fact.Plural(n, "dead pixel"), strings.Join(words, "; "))
	if n > 5 {
		note += fmt.Sprintf("; and %d more", n-5)
	}
	return note
}

// rawLevels are the levels of all flats, offset included, ADU.
func (f *flatRun) rawLevels() []float64 {
	var levels []float64
	for _, s := range f.shots {
		levels = append(levels, s.level)
	}
	return levels
}

func (f *flatRun) levelNote(m *mode) string {
	levels := f.rawLevels()
	note := fmt.Sprintf("%.0f of %.0f ADU", stats.Median(levels), m.saturation)
	if lo, hi := slices.Min(levels), slices.Max(levels); hi > pairRange*lo {
		note += fmt.Sprintf("; from %.0f to %.0f ADU, the master of %s", lo, hi, fact.Plural(len(f.Frames), "flat"))
	}
	return note
}

// saturated is the fraction of samples at saturation.
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
		return stats.Missing("one flat: the gain needs two of about the same level")
	}
	return weightedGain(f.points)
}

func (f *flatRun) warn(s *Set, m *mode) {
	level := stats.Median(f.rawLevels())
	sat := f.saturated(m.saturation).V
	warnTemperature(f.Series, s, "harmless unless the flats are long; check the cooler")
	switch {
	case level > fitUpTo*m.saturation:
		s.Warnings = append(s.Warnings, fmt.Sprintf("flats at %.0f %% of saturation are too bright to be surely linear: shorten the exposure to reach 30 to 60 %%", 100*level/m.saturation))
	case level < 0.1*m.saturation:
		s.Warnings = append(s.Warnings, fmt.Sprintf("flats at %.0f %% of saturation hold little light: expose for 30 to 60 %%", 100*level/m.saturation))
	}
	if sat > 1e-4 && level <= fitUpTo*m.saturation {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%.2g %% of the flats' samples are saturated", 100*sat))
	}
	if f.offsetFrom == "" {
		s.Warnings = append(s.Warnings, "no bias and no darks to take off the flats: the master flat corrects too little; shoot bias frames with the flats' gain and offset")
	}
	if f.flicker.OK() && f.flicker.V > 1 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the light flickers by %.1f %% from flat to flat: use longer exposures or a steadier lamp", f.flicker.V))
	}
	if f.snr.OK() && f.snr.V < 200 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the master flat's signal to noise is %.0f a pixel: %d flats would bring it to 500", f.snr.V, int(math.Ceil(float64(len(f.Frames))*math.Pow(500/f.snr.V, 2)))))
	}
}

func shadowNote(shadows []dust.Shadow) string {
	var words []string
	for i, s := range shadows {
		if i == 5 {
			words = append(words, fmt.Sprintf("and %d more", len(shadows)-5))
			break
		}
		at := fmt.Sprintf("at %.0f,%.0f %.0f px wide %.1f %% deep", s.X, s.Y, s.Diameter, s.DepthPct)
		if s.On != "" {
			at += " on the " + s.On
		}
		words = append(words, at)
	}
	return strings.Join(words, "; ")
}
