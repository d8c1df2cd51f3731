package subs

import (
	"fmt"

	"fitsqa/internal/config"
)

// minGroup is how many subs a group needs before its own subs can define what
// is normal: with fewer, one bad sub moves the quartile that it is compared
// with. Smaller groups are held to absolute limits, but for their width.
const minGroup = 5

// Limits are the thresholds of the verdicts. Each pair has one limit beyond
// which a sub is doubtful and one beyond which it is culled. Unless marked
// with a source, defaults are common practice, no source.
type Limits struct {
	// Burden of a sub on an average of the group's subs that are scaled to one
	// transparency first (relative): the noise variance that it brings, over what
	// the average bears. Below 1 it gives more than it takes; see burden.go. What
	// haze, Moon, twilight and a warm sensor do to a sub is all in it. The margin
	// above 1 is where the loss is too small to be worth a culled sub.
	BurdenDoubtful float64 `toml:"burden_doubtful" above:"0" help:"noise that a sub brings to a scaled average, over what that bears, above which it is doubtful"`
	BurdenCull     float64 `toml:"burden_cull" above:"0" help:"noise that a sub brings to a scaled average, over what that bears, above which it is culled"`

	// Transparency, as a fraction of the group's clear reference, extinction at
	// the sub's airmass allowed for (absolute, whatever the average bears): half
	// the light gone is cloud with gradients, or dew with halos.
	TransparencyDoubtful float64 `toml:"transparency_doubtful" above:"0" help:"transparency below which a sub is doubtful, fraction of clear"`
	TransparencyCull     float64 `toml:"transparency_cull" above:"0" help:"transparency below which a sub is culled, fraction of clear"`

	// Unevenness of the transparency over the field in % beyond what star
	// noise and the group's own baseline explain (absolute): cloud edges leave
	// gradients that no weight takes out.
	UnevennessDoubtful float64 `toml:"unevenness_doubtful" above:"0" help:"unevenness of the transparency over the field above which a sub is doubtful, %"`
	UnevennessCull     float64 `toml:"unevenness_cull" above:"0" help:"unevenness of the transparency over the field above which a sub is culled, %"`

	// Share of the field without light (absolute): a quarter of the stack's field
	// would be seen by fewer subs than the rest.
	CoveredDoubtful float64 `toml:"covered_doubtful" above:"0" help:"share of the field without light above which a sub is doubtful"`
	CoveredCull     float64 `toml:"covered_cull" above:"0" help:"share of the field without light above which a sub is culled"`

	// Sky level over the group's baseline (absolute, whatever the average bears):
	// a sky ten times as bright has its own gradients.
	SkyDoubtful float64 `toml:"sky_doubtful" above:"0" help:"sky level, times the group's baseline, above which a sub is doubtful"`
	SkyCull     float64 `toml:"sky_cull" above:"0" help:"sky level, times the group's baseline, above which a sub is culled"`

	// FWHM over that of the target and filter (relative). At 1.4 times that of an
	// average, a star's peak is half as high, and a sub of the usual noise lowers
	// the average's peaks more than its noise; a quarter more than the sharpest quarter
	// is beyond what seeing does to most subs of a steady night. These are for balanced
	// stacks: see Aim.
	FWHMDoubtful float64 `toml:"fwhm_doubtful" above:"0" help:"FWHM, times that of the group's sharpest quarter, above which a sub is doubtful"`
	FWHMCull     float64 `toml:"fwhm_cull" above:"0" help:"FWHM, times that of the group's sharpest quarter (of its best average where seeing scatters), above which a sub is culled"`

	// FWHM that no group makes good (absolute), in force where both are
	// exceeded: short focal lengths have large stars in arcseconds, long ones
	// in pixels. Where the pixel scale is unknown the limit in pixels makes a
	// sub doubtful, never culled.
	FWHMMaxArcsec float64 `toml:"fwhm_max_arcsec" above:"0" help:"FWHM above which a sub is culled whatever its group, arcsec (and fwhm_max_px)"`
	FWHMMaxPx     float64 `toml:"fwhm_max_px" above:"0" help:"FWHM above which a sub is culled whatever its group, px (and fwhm_max_arcsec)"`

	// Length of the sub's mean ellipticity vector, less what the optics make
	// (absolute). The eye sees an axis ratio of 0.8, and 0.7 is a line. These are
	// for balanced stacks: see Aim.
	EllipticityDoubtful float64 `toml:"ellipticity_doubtful" above:"0" help:"coherent ellipticity (1-b/a) above which a sub is doubtful"`
	EllipticityCull     float64 `toml:"ellipticity_cull" above:"0" help:"coherent ellipticity (1-b/a) above which a sub is culled"`
	// Coherence below which elongation is the optics' and no cause (absolute).
	CoherenceMin float64 `toml:"coherence_min" above:"0" help:"coherence below which elongation is taken for the optics'"`

	// Stars detected over what the group's baseline lets expect at this sub's
	// transparency, noise and FWHM (relative).
	StarsDoubtful float64 `toml:"stars_doubtful" above:"0" help:"stars, fraction of those expected, below which a sub is doubtful"`
	StarsCull     float64 `toml:"stars_cull" above:"0" help:"stars, fraction of those expected, below which a sub is culled"`

	// Sensor temperature off the set one, °C (absolute), where the noise that it
	// adds is not known. Dark current doubles in 5 to 7 °C, so 2 °C off leaves a
	// quarter of the dark's pattern. Temperature alone never culls.
	TemperatureDoubtful float64 `toml:"temperature_doubtful" above:"0" help:"sensor temperature off the set one above which a sub is doubtful, °C"`

	// Aim of the stack: what soft and trailed subs are culled for.
	Aim Aim `toml:"aim" help:"what soft and trailed subs are culled for: depth, balance or detail"`

	// Overrides for single targets or filters, later ones winning.
	Overrides []Override `toml:"override" help:"Other limits for single targets or filters, later ones winning; keep only the lines that you change:"`
}

// DefaultLimits is what the command line starts from.
var DefaultLimits = Limits{
	BurdenDoubtful: 1.2, BurdenCull: 1.2,
	TransparencyDoubtful: 0.65, TransparencyCull: 0.5,
	UnevennessDoubtful: 6, UnevennessCull: 15, CoveredDoubtful: 0.08, CoveredCull: 0.25,
	SkyDoubtful: 5, SkyCull: 10,
	FWHMDoubtful: 1.25, FWHMCull: 1.4,
	FWHMMaxArcsec: 8, FWHMMaxPx: 5,
	EllipticityDoubtful: 0.2, EllipticityCull: 0.3, CoherenceMin: 0.5,
	StarsDoubtful: 0.5, StarsCull: 0.25,
	TemperatureDoubtful: 2, Aim: Balance,
}

// Strict is for nights with more subs than needed: what is doubtful by default, or
// gives little, is culled, and doubt begins half way to it.
func Strict() Limits {
	return Limits{
		BurdenDoubtful: 0.7, BurdenCull: 0.85,
		TransparencyDoubtful: 0.8, TransparencyCull: 0.65,
		UnevennessDoubtful: 4, UnevennessCull: 8, CoveredDoubtful: 0.05, CoveredCull: 0.15,
		SkyDoubtful: 3, SkyCull: 5,
		FWHMDoubtful: 1.15, FWHMCull: 1.25,
		FWHMMaxArcsec: 6, FWHMMaxPx: 4,
		EllipticityDoubtful: 0.15, EllipticityCull: 0.2, CoherenceMin: 0.5,
		StarsDoubtful: 0.7, StarsCull: 0.5,
		TemperatureDoubtful: 1, Aim: Balance,
	}
}

// Lenient is for nights that are hard to come by: only what spoils the stack
// whatever the weights is culled.
func Lenient() Limits {
	return Limits{
		BurdenDoubtful: 1.2, BurdenCull: 3,
		TransparencyDoubtful: 0.5, TransparencyCull: 0.3,
		UnevennessDoubtful: 12, UnevennessCull: 30, CoveredDoubtful: 0.2, CoveredCull: 0.4,
		SkyDoubtful: 10, SkyCull: 30,
		FWHMDoubtful: 1.4, FWHMCull: 2,
		FWHMMaxArcsec: 12, FWHMMaxPx: 8,
		EllipticityDoubtful: 0.3, EllipticityCull: 0.4, CoherenceMin: 0.5,
		StarsDoubtful: 0.3, StarsCull: 0.1,
		TemperatureDoubtful: 4, Aim: Balance,
	}
}

// Check tells which limit makes no sense: one that is no positive number, or a
// cull limit on the good side of the doubtful one.
func (l Limits) Check() error {
	if err := l.checkOwn(); err != nil {
		return err
	}
	if _, known := aims[l.Aim]; !known {
		return fmt.Errorf("aim is %q: it is depth, balance or detail", l.Aim)
	}
	for _, o := range l.Overrides {
		if err := o.apply(l).checkOwn(); err != nil {
			return fmt.Errorf("limits.override for target %q, filter %q: %w", o.Target, o.Filter, err)
		}
	}
	return nil
}

func (l Limits) checkOwn() error {
	if err := config.Check(&l); err != nil {
		return config.In("limits", err)
	}
	for _, p := range []struct {
		name           string
		doubtful, cull float64
		falling        bool // smaller is worse
	}{
		{"transparency", l.TransparencyDoubtful, l.TransparencyCull, true},
		{"covered", l.CoveredDoubtful, l.CoveredCull, false},
		{"unevenness", l.UnevennessDoubtful, l.UnevennessCull, false},
		{"sky", l.SkyDoubtful, l.SkyCull, false},
		{"fwhm", l.FWHMDoubtful, l.FWHMCull, false},
		{"ellipticity", l.EllipticityDoubtful, l.EllipticityCull, false},
		{"stars", l.StarsDoubtful, l.StarsCull, true},
		{"burden", l.BurdenDoubtful, l.BurdenCull, false},
	} {
		if p.falling && p.cull > p.doubtful || !p.falling && p.cull < p.doubtful {
			return &config.Error{Key: "limits." + p.name + "_cull",
				Problem: fmt.Sprintf("%v is on the good side of %s_doubtful %v", p.cull, p.name, p.doubtful)}
		}
	}
	return nil
}
