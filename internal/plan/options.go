package plan

import (
	"fmt"

	"fitsqa/internal/config"
	"fitsqa/internal/names"
)

// Options steer the advice; take DefaultOptions and change what you need.
type Options struct {
	ReadNoiseShare float64  `toml:"read_noise_share" above:"0" below:"1" help:"read noise may add this fraction to the noise of a sub"`
	SaturatedShare float64  `toml:"saturated_share" above:"0" below:"1" help:"this fraction of the stars may saturate"`
	MaxExposure    float64  `toml:"max_exposure_s" min:"1" max:"100000" unit:"s" help:"no sub is advised to be longer"`
	MasterShare    float64  `toml:"master_share" above:"0" below:"1" help:"a calibration master may add this fraction to the noise of the stack"`
	Efficiency     float64  `toml:"efficiency" min:"0" max:"1" help:"share of the light that optics and sensor together turn into electrons; 0: unknown"`
	Filters        []Filter `toml:"filters" help:"What you know of a filter, once for each; zeros are unknown:"`
	Goals          []Goal   `toml:"goals" help:"What a target should get through a filter, once for each: clear hours, or a signal to noise of a patch of faint object (then hours = 0):"`
}

// Filter is what the user knows of a filter. Zeros are unknown.
type Filter struct {
	Name         names.Name `toml:"name" help:"its name, as in the headers"`
	BandwidthNM  float64    `toml:"bandwidth_nm" min:"0" unit:"nm" help:"full width at half maximum"`
	WavelengthNM float64    `toml:"wavelength_nm" min:"0" unit:"nm" help:"middle of the band"`
	ZeroPoint    float64    `toml:"zero_point" unit:"mag" help:"magnitude that gives 1 e-/s"`
}

// Goal is what a target should get through a filter: clear hours, or a signal
// to noise of a patch of faint object.
type Goal struct {
	Target names.Name `toml:"target" help:"name of the target, as in the headers"`
	Filter names.Name `toml:"filter" help:"name of the filter, as in the headers"`
	Hours  float64    `toml:"hours" min:"0" unit:"h" help:"clear time; 0: not a goal"`
	RA     float64    `toml:"ra_deg" min:"0" max:"360" unit:"degrees" help:"right ascension, J2000; 0 with dec_deg 0: where its subs pointed"`
	Dec    float64    `toml:"dec_deg" min:"-90" max:"90" unit:"degrees" help:"declination, J2000"`
	SNR    float64    `toml:"snr" min:"0" help:"signal to noise of the patch below; 0: not a goal"`

	ObjectMag    float64 `toml:"object_mag" unit:"mag per square arcsecond" help:"surface brightness of the patch; needs a zero point"`
	ObjectSkyPct float64 `toml:"object_sky_pct" min:"0" unit:"% of the sky" help:"or its brightness beside the best night's sky"`
	AreaArcsec2  float64 `toml:"area_arcsec2" min:"0" unit:"square arcseconds" help:"size of the patch; 0: 100, a patch of 10\" by 10\""`
}

// DefaultOptions is what the command line starts from.
var DefaultOptions = Options{
	ReadNoiseShare: 0.05,
	SaturatedShare: 0.01,
	MaxExposure:    1200,
	MasterShare:    0.02,
}

// Validate tells the first option that makes no sense.
func (o *Options) Validate() error {
	if err := config.Check(o); err != nil {
		return config.In("plan", err)
	}
	for _, f := range o.Filters {
		if f.Name == "" || !(f.BandwidthNM >= 0) || !(f.WavelengthNM >= 0) {
			return &config.Error{Key: "plan.filters", Problem: fmt.Sprintf("(%q): a filter needs a name, and numbers that are not negative", f.Name)}
		}
	}
	for _, g := range o.Goals {
		if problem := g.problem(); problem != "" {
			return &config.Error{Key: "plan.goals", Problem: fmt.Sprintf("(%q through %q): %s", g.Target, g.Filter, problem)}
		}
	}
	return nil
}

// problem says what makes no sense about a goal; nothing when all does.
func (g *Goal) problem() string {
	switch {
	case g.Target == "" || g.Filter == "":
		return "a goal needs a target and a filter"
	case !(g.Hours >= 0) || !(g.SNR >= 0) || !(g.AreaArcsec2 >= 0) || !(g.ObjectSkyPct >= 0):
		return "no number may be negative"
	case (g.Hours > 0) == (g.SNR > 0):
		return "a goal needs either hours or snr"
	case g.SNR > 0 && (g.ObjectMag != 0) == (g.ObjectSkyPct > 0):
		return "snr needs either object_mag or object_sky_pct"
	}
	return ""
}

// filter finds what the user knows of a filter; the zero Filter when nothing.
func (o *Options) filter(name names.Name) Filter {
	for _, f := range o.Filters {
		if f.Name.Is(name) {
			return f
		}
	}
	return Filter{Name: name}
}
