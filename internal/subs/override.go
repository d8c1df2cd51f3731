package subs

import (
	"reflect"

	"fitsqa/internal/names"
)

// Override changes limits for one target, one filter, or one of them through the other.
// An empty name stands for all; spellings of one name (package names) are the same. Limits
// that it does not name stay as they are. In a TOML file:
//
//	[[limits.override]]
//	filter = "Ha"
//	sky_doubtful = 3.0
type Override struct {
	Target names.Name `toml:"target" help:"name of the target; empty: all"`
	Filter names.Name `toml:"filter" help:"name of the filter; empty: all"`

	BurdenDoubtful       *float64 `toml:"burden_doubtful"`
	BurdenCull           *float64 `toml:"burden_cull"`
	TransparencyDoubtful *float64 `toml:"transparency_doubtful"`
	TransparencyCull     *float64 `toml:"transparency_cull"`
	UnevennessDoubtful   *float64 `toml:"unevenness_doubtful"`
	CoveredDoubtful      *float64 `toml:"covered_doubtful"`
	CoveredCull          *float64 `toml:"covered_cull"`
	UnevennessCull       *float64 `toml:"unevenness_cull"`
	SkyDoubtful          *float64 `toml:"sky_doubtful"`
	SkyCull              *float64 `toml:"sky_cull"`
	FWHMDoubtful         *float64 `toml:"fwhm_doubtful"`
	FWHMCull             *float64 `toml:"fwhm_cull"`
	FWHMMaxArcsec        *float64 `toml:"fwhm_max_arcsec"`
	FWHMMaxPx            *float64 `toml:"fwhm_max_px"`
	EllipticityDoubtful  *float64 `toml:"ellipticity_doubtful"`
	EllipticityCull      *float64 `toml:"ellipticity_cull"`
	CoherenceMin         *float64 `toml:"coherence_min"`
	StarsDoubtful        *float64 `toml:"stars_doubtful"`
	StarsCull            *float64 `toml:"stars_cull"`
	TemperatureDoubtful  *float64 `toml:"temperature_doubtful"`
}

// For gives the limits in force for a target and filter.
func (l Limits) For(target, filter names.Name) Limits {
	out := l
	for _, o := range l.Overrides {
		if matches(o.Target, target) && matches(o.Filter, filter) {
			out = o.apply(out)
		}
	}
	return out
}

func matches(pattern, name names.Name) bool {
	return pattern.Key() == "" || pattern.Is(name)
}

// apply copies the limits that the override names, by field name.
func (o Override) apply(l Limits) Limits {
	from, to := reflect.ValueOf(o), reflect.ValueOf(&l).Elem()
	for i := range from.NumField() {
		if p, ok := from.Field(i).Interface().(*float64); ok && p != nil {
			to.FieldByName(from.Type().Field(i).Name).SetFloat(*p)
		}
	}
	return l
}
