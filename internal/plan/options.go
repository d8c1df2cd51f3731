package plan

import "fmt"

// Options steer the advice; take DefaultOptions and change what you need.
type Options struct {
	ReadNoiseShare float64  `toml:"read_noise_share"` // read noise may add this fraction to the noise of a sub
	SaturatedShare float64  `toml:"saturated_share"`  // this fraction of the stars may saturate
	MaxExposure    float64  `toml:"max_exposure_s"`   // no sub is advised to be longer, s
	MasterShare    float64  `toml:"master_share"`     // a calibration master may add this fraction to the noise of the stack
	Efficiency     float64  `toml:"efficiency"`       // of optics and sensor together, 0..1; 0: unknown
	Filters        []Filter `toml:"filters"`
	Goals          []Goal   `toml:"goals"`
}

// Filter is what the user knows of a filter. Zeros are unknown.
type Filter struct {
	Name         string  `toml:"name"`          // as in the headers
	BandwidthNM  float64 `toml:"bandwidth_nm"`  // full width at half maximum
	WavelengthNM float64 `toml:"wavelength_nm"` // middle
	ZeroPoint    float64 `toml:"zero_point"`    // mag that gives 1 e-/s
}

// Goal is what a target should get through a filter: clear hours, or a signal
// to noise of a patch of faint object.
type Goal struct {
	Target string  `toml:"target"`
	Filter string  `toml:"filter"`
	Hours  float64 `toml:"hours"` // clear time; 0: not a goal
	SNR    float64 `toml:"snr"`   // signal to noise of the patch below; 0: not a goal

	ObjectMag    float64 `toml:"object_mag"`     // surface brightness of the patch, mag/arcsec²; needs a zero point
	ObjectSkyPct float64 `toml:"object_sky_pct"` // or: its brightness in percent of the sky's
	AreaArcsec2  float64 `toml:"area_arcsec2"`   // of the patch; 0: 100, a patch of 10" by 10"
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
	for _, share := range []struct {
		name  string
		value float64
	}{
		{"read_noise_share", o.ReadNoiseShare}, {"saturated_share", o.SaturatedShare}, {"master_share", o.MasterShare},
	} {
		if !(share.value > 0 && share.value < 1) {
			return fmt.Errorf("%s must be a fraction between 0 and 1, not %g", share.name, share.value)
		}
	}
	switch {
	case !(o.MaxExposure >= 1):
		return fmt.Errorf("max_exposure_s must be 1 s or more, not %g", o.MaxExposure)
	case !(o.Efficiency >= 0 && o.Efficiency <= 1):
		return fmt.Errorf("efficiency must be a fraction from 0 to 1, not %g", o.Efficiency)
	}
	for _, f := range o.Filters {
		if f.Name == "" || !(f.BandwidthNM >= 0) || !(f.WavelengthNM >= 0) {
			return fmt.Errorf("filter %q needs a name, and numbers that are not negative", f.Name)
		}
	}
	for _, g := range o.Goals {
		if err := g.validate(); err != nil {
			return err
		}
	}
	return nil
}

func (g *Goal) validate() error {
	name := fmt.Sprintf("goal for %q through %q", g.Target, g.Filter)
	switch {
	case g.Target == "" || g.Filter == "":
		return fmt.Errorf("%s needs a target and a filter", name)
	case !(g.Hours >= 0) || !(g.SNR >= 0) || !(g.AreaArcsec2 >= 0) || !(g.ObjectSkyPct >= 0):
		return fmt.Errorf("%s has a negative number", name)
	case (g.Hours > 0) == (g.SNR > 0):
		return fmt.Errorf("%s needs either hours or snr", name)
	case g.SNR > 0 && (g.ObjectMag != 0) == (g.ObjectSkyPct > 0):
		return fmt.Errorf("%s needs either object_mag or object_sky_pct", name)
	}
	return nil
}

// filter finds what the user knows of a filter; the zero Filter when nothing.
func (o *Options) filter(name string) Filter {
	for _, f := range o.Filters {
		if sameName(f.Name, name) {
			return f
		}
	}
	return Filter{Name: name}
}
