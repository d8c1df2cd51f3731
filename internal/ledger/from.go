package ledger

import (
	"math"
	"path"
	"slices"
	"time"

	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
)

// Of is what a night's result tells the ledger.
func Of(r *night.Result) Record {
	var times []time.Time
	for _, s := range r.Subs {
		times = append(times, s.Start)
	}
	var rec Record
	for _, s := range r.Subs {
		if s.DuplicateOf == "" {
			rec.Subs = append(rec.Subs, subOf(r, s, times))
		}
	}
	rec.Figures = figuresOfAll(r)
	rec.HotMaps = hotMapsOfAll(r)
	rec.References = r.References
	return rec
}

func figuresOfAll(r *night.Result) (all []Figure) {
	if r.Calib == nil {
		return nil
	}
	site := r.NightSite()
	for _, set := range r.Calib.Sets {
		all = append(all, figuresOf(r, set, site)...)
	}
	return all
}

func subOf(r *night.Result, s *night.Sub, times []time.Time) Sub {
	nan := math.NaN()
	rec := Sub{
		Camera: s.Camera, Start: s.Start, Target: s.Target, Filter: s.Filter, Exposure: s.Exposure,
		Verdict: string(s.Verdict), Weight: s.Weight.V, FWHM: nan, Sky: nan, SkyMag: nan, Lat: nan, Lon: nan, File: path.Base(s.File),
		RA: nan, Dec: nan, Scale: s.PixelScale, Level: nan, Depth: nan, Zero: nan, Could: nan, LevelErr: nan, ZeroErr: nan, Ellipticity: nan, Noise: s.NoiseRate().V,
	}
	if m, ok := r.Merits[s.Stack]; ok {
		rec.Optics, rec.Level, rec.Depth, rec.Could, rec.Zero = m.Optics, m.Level, m.Depth, m.Could, m.Zero
		rec.LevelErr, rec.ZeroErr = m.LevelErr, m.ZeroErr
	}
	if s.Plate.Solution != nil {
		rec.RA, rec.Dec = s.Plate.RA, s.Plate.Dec
	}
	if s.Frame != nil && s.Plate.Solution == nil {
		rec.RA, rec.Dec = s.Frame.Meta.RA, s.Frame.Meta.Dec
	}
	site := r.SiteOf(s.Frame)
	if site.Valid() {
		rec.Lat, rec.Lon = site.Lat, site.Lon
	}
	rec.Night = sky.NewCalendar(site, times).Date(s.Start)
	if len(s.Causes) > 0 {
		rec.Cause = string(s.Causes[0])
	}
	if s.Field != nil {
		rec.FWHM, rec.Ellipticity = s.Field.FWHM.V*s.PixelScale, s.Field.Ellipticity.V
	}
	if s.SkyRate.OK() {
		rec.Sky = s.SkyRate.V / (s.PixelScale * s.PixelScale)
		rec.SkyMag = magnitude(r.Plan, s.Stack, rec.Sky)
	}
	return rec
}

// magnitude of a sky rate by the zero point that the plan found for its stack;
// NaN when it found none.
func magnitude(p *plan.Plan, stack int, rate float64) float64 {
	if p == nil {
		return math.NaN()
	}
	for _, e := range p.Exposures {
		if e.Stack == stack && e.SkyMag.OK() && e.SkyArcsec.OK() {
			return e.SkyMag.V - 2.5*math.Log10(rate/e.SkyArcsec.V)
		}
	}
	return math.NaN()
}

// figuresOf are the figures of one set of calibration frames, dated by the night in
// which they were shot. A set whose frames have no time is left out: it could be
// months old.
func figuresOf(r *night.Result, set *sensor.Set, site *sky.Site) []Figure {
	setting, times := settingOf(set), shotAt(r, set)
	if len(times) == 0 {
		return nil
	}
	date := sky.NewCalendar(site, times).Date(times[len(times)/2])
	var list []Figure
	for _, m := range set.Metrics() {
		if kept(set, m.Name) && m.Value.OK() {
			list = append(list, Figure{Camera: set.Camera, Night: date, Metric: m.Name, Setting: setting,
				Unit: m.Unit, Value: m.Value.V, Uncertainty: m.Value.Err, Frames: m.Value.N})
		}
	}
	return list
}

// remembered are the figures of a camera's summary that hold for other nights.
var remembered = []string{"dark_activation_ev", "dark_doubling_c", "dark_current_0c_e_per_s", "full_well_e", "gain_e_per_adu", "read_noise_e", "saturation_adu"}

// ofDarks are the figures of darks that tell of the sensor when there are none.
var ofDarks = []string{"warm_nonuniformity_e_per_s", "glow_e"}

// kept tells which figures the ledger keeps. What only the header or the ledger
// itself told is none.
func kept(set *sensor.Set, metric string) bool {
	if set.Summary == nil {
		_, ok := watched[metric]
		return ok || slices.Contains(ofDarks, metric)
	}
	return slices.Contains(remembered, metric) && !slices.Contains(set.Summary.Old, metric)
}
