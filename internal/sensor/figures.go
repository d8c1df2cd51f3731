package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// figure has no note where it is missing: the reason says all.
func figure(v stats.Value, note ...fact.Fact) Figure {
	if !v.OK() {
		return Figure{Value: v}
	}
	return Figure{v, notes(note)}
}

// notes are the parts of a note one after the other, without those that are none.
func notes(parts ...[]fact.Fact) []fact.Fact {
	return slices.DeleteFunc(slices.Concat(parts...), func(f fact.Fact) bool { return f.Code == "" })
}

// Definition is what reports say of a figure, whatever its value.
type Definition struct {
	Name    string // in the output contract, e.g. "read_noise_e"
	Title   string // as people call it
	Unit    string // "ADU", "e-", "e-/s", "%", "px", "" ...
	Leading bool   // it is shown where a set has one line
	Lead    string // the word before it there

	of func(*Set) *Figure
}

// Metric is a figure of a set with its definition.
type Metric struct {
	Definition
	Figure
}

// Definitions are those of a kind of set, in the order of the reports.
func Definitions(kind string) []Definition { return definitions[kind] }

// Metrics are the figures of a set, in the order of the reports.
func (s *Set) Metrics() []Metric {
	var all []Metric
	for _, d := range definitions[s.Kind] {
		all = append(all, Metric{d, *d.of(s)})
	}
	return all
}

// Figure finds a figure by its name in the output contract; nil where the kind of
// set has none of it.
func (s *Set) Figure(name string) *Figure {
	for _, d := range definitions[s.Kind] {
		if d.Name == name {
			return d.of(s)
		}
	}
	return nil
}

var definitions = map[string][]Definition{
	"bias": {
		{Name: "offset_adu", Title: "Offset", Unit: "ADU", Leading: true, Lead: "offset", of: func(s *Set) *Figure { return &s.Bias.Offset }},
		{Name: "read_noise_adu", Title: "Read noise", Unit: "ADU", Leading: true, Lead: "read noise", of: func(s *Set) *Figure { return &s.Bias.ReadNoiseADU }},
		{Name: "read_noise_e", Title: "Read noise", Unit: "e-", Leading: true, of: func(s *Set) *Figure { return &s.Bias.ReadNoise }},
		{Name: "pixel_noise_median_adu", Title: "Noise of single pixels, median", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.PixelNoiseMedian }},
		{Name: "pixel_noise_rms_adu", Title: "Noise of single pixels, rms", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.PixelNoiseRMS }},
		{Name: "pixel_noise_p99_adu", Title: "Noise of single pixels, 99th percentile", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.PixelNoiseP99 }},
		{Name: "noisy_pixel_fraction", Title: "Noisy (telegraph) pixels", of: func(s *Set) *Figure { return &s.Bias.NoisyPixels }},
		{Name: "fixed_pattern_adu", Title: "Fixed pattern", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.FixedPattern }},
		{Name: "row_banding", Title: "Row banding", of: func(s *Set) *Figure { return &s.Bias.RowBanding }},
		{Name: "column_banding", Title: "Column banding", of: func(s *Set) *Figure { return &s.Bias.ColumnBanding }},
		{Name: "clipped_fraction", Title: "Pixels cut off at zero", of: func(s *Set) *Figure { return &s.Bias.Clipped }},
		{Name: "drift_adu_per_frame", Title: "Drift per frame", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.Drift }},
		{Name: "outlier_frames", Title: "Outlier frames", of: func(s *Set) *Figure { return &s.Bias.Outliers }},
		{Name: "master_noise_adu", Title: "Noise of the master", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.MasterNoise }},
		{Name: "sample_step_adu", Title: "Step of the samples", Unit: "ADU", of: func(s *Set) *Figure { return &s.Bias.SampleStep }},
	},
	"dark": {
		{Name: "dark_current_e_per_s", Title: "Dark current, median pixel", Unit: "e-/s", Leading: true, Lead: "dark current", of: func(s *Set) *Figure { return &s.Dark.Current }},
		{Name: "dark_current_by_noise_e_per_s", Title: "Dark current by the noise", Unit: "e-/s", of: func(s *Set) *Figure { return &s.Dark.CurrentByNoise }},
		{Name: "dark_intercept_adu", Title: "Level at zero exposure", Unit: "ADU", of: func(s *Set) *Figure { return &s.Dark.Intercept }},
		{Name: "dark_current_mean_e_per_s", Title: "Dark current, mean", Unit: "e-/s", of: func(s *Set) *Figure { return &s.Dark.CurrentMean }},
		{Name: "dark_current_adu_per_s", Title: "Dark current, median pixel", Unit: "ADU/s", Leading: true, of: func(s *Set) *Figure { return &s.Dark.CurrentADU }},
		{Name: "hot_pixels", Title: "Hot pixels", Unit: "px", Leading: true, Lead: "hot", of: func(s *Set) *Figure { return &s.Dark.HotPixels }},
		{Name: "hot_fraction", Title: "Hot pixels, share", of: func(s *Set) *Figure { return &s.Dark.HotFraction }},
		{Name: "hot_threshold_e_per_s", Title: "Hot from", Unit: "e-/s", of: func(s *Set) *Figure { return &s.Dark.HotThreshold }},
		{Name: "warm_nonuniformity_e_per_s", Title: "Spread of the pixels' dark current", Unit: "e-/s", of: func(s *Set) *Figure { return &s.Dark.Nonuniformity }},
		{Name: "glow_e", Title: "Glow, height", Unit: "e-", Leading: true, Lead: "glow", of: func(s *Set) *Figure { return &s.Dark.GlowHeight }},
		{Name: "glow_x", Title: "Glow, x", Unit: "px", of: func(s *Set) *Figure { return &s.Dark.GlowX }},
		{Name: "glow_y", Title: "Glow, y", Unit: "px", of: func(s *Set) *Figure { return &s.Dark.GlowY }},
		{Name: "light_leak_pct", Title: "Light leak", Unit: "%", of: func(s *Set) *Figure { return &s.Dark.LightLeak }},
		{Name: "temperature_offset_c", Title: "Sensor off its set temperature", Unit: "°C", of: func(s *Set) *Figure { return &s.Dark.TemperatureOffset }},
		{Name: "temperature_rms_c", Title: "Temperature, rms", Unit: "°C", of: func(s *Set) *Figure { return &s.Dark.TemperatureScatter }},
	},
	"flat": {
		{Name: "level_fraction", Title: "Level, share of saturation", Leading: true, Lead: "level", of: func(s *Set) *Figure { return &s.Flat.Level }},
		{Name: "saturated_fraction", Title: "Saturated pixels", of: func(s *Set) *Figure { return &s.Flat.Saturated }},
		{Name: "gain_e_per_adu", Title: "Gain", Unit: "e-/ADU", Leading: true, Lead: "gain", of: func(s *Set) *Figure { return &s.Flat.Gain }},
		{Name: "prnu_pct", Title: "Pixel response spread", Unit: "%", of: func(s *Set) *Figure { return &s.Flat.Response }},
		{Name: "corner_falloff_pct", Title: "Falloff to the corners", Unit: "%", Leading: true, Lead: "corner falloff", of: func(s *Set) *Figure { return &s.Flat.CornerFalloff }},
		{Name: "dust_shadows", Title: "Dust shadows", Leading: true, Lead: "dust shadows", of: func(s *Set) *Figure { return &s.Flat.Dust }},
		{Name: "flicker_pct", Title: "Flicker", Unit: "%", of: func(s *Set) *Figure { return &s.Flat.Flicker }},
		{Name: "master_snr", Title: "Signal to noise of the master", of: func(s *Set) *Figure { return &s.Flat.SNR }},
	},
	"camera": {
		{Name: "gain_e_per_adu", Title: "Gain", Unit: "e-/ADU", Leading: true, Lead: "gain", of: func(s *Set) *Figure { return &s.Summary.Gain }},
		{Name: "read_noise_e", Title: "Read noise", Unit: "e-", Leading: true, Lead: "read noise", of: func(s *Set) *Figure { return &s.Summary.ReadNoise }},
		{Name: "full_well_e", Title: "Full well", Unit: "e-", Leading: true, Lead: "full well", of: func(s *Set) *Figure { return &s.Summary.FullWell }},
		{Name: "saturation_adu", Title: "Saturation", Unit: "ADU", of: func(s *Set) *Figure { return &s.Summary.Saturation }},
		{Name: "dynamic_range_stops", Title: "Dynamic range", Unit: "stops", Leading: true, Lead: "dynamic range", of: func(s *Set) *Figure { return &s.Summary.DynamicRange }},
		{Name: "linearity_error_pct", Title: "Linearity error", Unit: "%", of: func(s *Set) *Figure { return &s.Summary.LinearityError }},
		{Name: "dark_doubling_c", Title: "Dark current doubles every", Unit: "°C", Leading: true, Lead: "dark doubles every", of: func(s *Set) *Figure { return &s.Summary.DarkDoubling }},
		{Name: "dark_activation_ev", Title: "Activation energy of dark current", Unit: "eV", of: func(s *Set) *Figure { return &s.Summary.DarkActivation }},
		{Name: "dark_current_0c_e_per_s", Title: "Dark current at 0 °C", Unit: "e-/s", of: func(s *Set) *Figure { return &s.Summary.DarkCurrent }},
		{Name: "dark_benefit_pct", Title: "Gain by darks", Unit: "%", of: func(s *Set) *Figure { return &s.Summary.DarkBenefit }},
	},
}

// NewSet is a set of which nothing is measured, for the reason that is given.
func NewSet(kind string, why fact.Code) *Set { return emptySet(kind, fact.Of(why)) }

func emptySet(kind string, why fact.Fact) *Set {
	s, none := &Set{Kind: kind}, stats.Because(why)
	switch kind {
	case KindBias:
		s.Bias = &Bias{RawNoise: none, TempSlope: none}
	case KindDark:
		s.Dark = &Dark{Noise: none, Uneven: math.NaN()}
	case KindFlat:
		s.Flat = &Flat{DriftPct: none}
	case KindCamera:
		s.Summary = &Camera{}
	}
	for _, d := range definitions[kind] {
		*d.of(s) = Figure{Value: none}
	}
	return s
}

// newSet is that of a group whose frames were stacked, or were not (nil), for the reason
// that is given.
func newSet(g *frames.Group, stacked *stack.Series, why fact.Fact) *Set {
	s := emptySet(string(g.Kind), why)
	s.Label, s.Group, s.Camera = g.Label(), g, g.Camera
	if stacked != nil {
		s.Warnings = stacked.Warnings
	}
	if s.Measured = why.Code == "" && stacked.OK(); s.Measured {
		s.Combined = len(stacked.Frames)
	}
	return s
}
