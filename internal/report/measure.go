package report

import (
	"math"

	"fitsqa/internal/night"
	"fitsqa/internal/plate"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// measure is one figure of a sub under the name that every report uses.
type measure struct {
	name string
	get  func(*night.Sub) stats.Value
}

// measures are all figures of a sub, in the order of subs.csv, then those that
// only night.json holds.
var measures = []measure{
	{"sky_adu", ofPixels(func(s *night.Sub) stats.Value { return s.SkyADU })},
	{"sky_e_per_s", ofPixels(func(s *night.Sub) stats.Value { return s.SkyRate })},
	{"noise_adu", ofPixels(func(s *night.Sub) stats.Value { return s.NoiseADU })},
	{"stars", ofField(func(f *stars.Field) stats.Value { return count(f.Count) })},
	{"saturated_stars", ofField(func(f *stars.Field) stats.Value { return count(f.Saturated) })},
	{"fwhm_px", ofField(func(f *stars.Field) stats.Value { return f.FWHM })},
	{"fwhm_arcsec", fwhmArcsec},
	{"hfd_px", ofField(func(f *stars.Field) stats.Value { return f.HFD })},
	{"ellipticity", ofField(func(f *stars.Field) stats.Value { return f.Ellipticity })},
	{"elongation_angle_deg", ofField(func(f *stars.Field) stats.Value { return f.Angle })},
	{"coherence", ofField(func(f *stars.Field) stats.Value { return f.Coherence })},
	{"transparency", ofPixels(func(s *night.Sub) stats.Value { return s.Transparency.Ratio })},
	{"gradient_pct", ofField(func(f *stars.Field) stats.Value { return f.GradientPct })},
	{"shift_x_px", ofPixels(func(s *night.Sub) stats.Value { return s.Align.ShiftX })},
	{"shift_y_px", ofPixels(func(s *night.Sub) stats.Value { return s.Align.ShiftY })},
	{"rotation_deg", ofPixels(func(s *night.Sub) stats.Value { return s.Align.RotationDeg })},
	{"streaks", ofField(func(f *stars.Field) stats.Value { return count(len(f.Streaks)) })},
	{"airmass", func(s *night.Sub) stats.Value { return s.Sky.Airmass }},
	{"sun_alt_deg", func(s *night.Sub) stats.Value { return s.Sky.SunAlt }},
	{"moon_alt_deg", func(s *night.Sub) stats.Value { return s.Sky.MoonAlt }},
	{"moon_lit_pct", func(s *night.Sub) stats.Value { return s.Sky.MoonLitPct }},
	{"weight", ofPixels(func(s *night.Sub) stats.Value { return s.Weight })},
	{"zero_point_mag", ofPixels(func(s *night.Sub) stats.Value { return s.ZeroPoint })},
	{"zero_point_err_mag", ofPixels(zeroPointErr)},
	{"sky_mag_arcsec2", ofPixels(func(s *night.Sub) stats.Value { return s.SkyMag })},
	{"limiting_mag", ofPixels(func(s *night.Sub) stats.Value { return s.LimitingMag })},
	{"ra_deg", ofPlate(func(p *plate.Solution) stats.Value { return p.Centre()[0] })},
	{"dec_deg", ofPlate(func(p *plate.Solution) stats.Value { return p.Centre()[1] })},
	{"position_angle_deg", ofPlate((*plate.Solution).Angle)},
	{"scale_arcsec_px", ofPlate((*plate.Solution).ScaleErr)},
	{"season_transparency", ofPixels(func(s *night.Sub) stats.Value { return s.SeasonTransparency })},
	{"weight_detail", ofPixels(func(s *night.Sub) stats.Value { return s.WeightDetail })},

	{"random_noise_adu", ofPixels(func(s *night.Sub) stats.Value { return s.RandomNoise })},
	{"transparency_unevenness_pct", ofPixels(func(s *night.Sub) stats.Value { return s.Transparency.Unevenness })},
	{"halo_pct", ofField(func(f *stars.Field) stats.Value { return f.Halo.Scaled(100) })},
	{"target_alt_deg", func(s *night.Sub) stats.Value { return s.Sky.TargetAlt }},
	{"hour_angle_deg", func(s *night.Sub) stats.Value { return s.Sky.HourAngle }},
	{"moon_separation_deg", func(s *night.Sub) stats.Value { return s.Sky.MoonSeparation }},
	{"season_fwhm", ofPixels(func(s *night.Sub) stats.Value { return s.SeasonFWHM })},
	{"season_weight", ofPixels(func(s *night.Sub) stats.Value { return s.SeasonalWeight })},
	{"moonlight_mag", func(s *night.Sub) stats.Value { return s.Sky.MoonlightMag }},
}

// figureOf finds a sub's figure by its name.
func figureOf(s *night.Sub, name string) stats.Value {
	for _, m := range measures {
		if m.name == name {
			return m.get(s)
		}
	}
	return stats.Missing("no such figure")
}

// unread is why nothing was measured of a sub's pixels.
func unread(s *night.Sub) stats.Value {
	if s.ReadErr != "" {
		return stats.Missing(s.ReadErr)
	}
	return stats.Missing("the sub was not measured")
}

// ofPixels is a figure that only a readable sub has.
func ofPixels(get func(*night.Sub) stats.Value) func(*night.Sub) stats.Value {
	return func(s *night.Sub) stats.Value {
		if s.Field == nil {
			return unread(s)
		}
		return get(s)
	}
}

// ofField is a figure of the star field.
func ofField(get func(*stars.Field) stats.Value) func(*night.Sub) stats.Value {
	return func(s *night.Sub) stats.Value {
		if s.Field == nil {
			return unread(s)
		}
		return get(s.Field)
	}
}

func fwhmArcsec(s *night.Sub) stats.Value {
	if s.Field == nil {
		return unread(s)
	}
	if s.Field.FWHM.OK() && math.IsNaN(s.PixelScale) {
		return stats.Missing("pixel size or focal length is not in the header")
	}
	return s.Field.FWHM.Scaled(s.PixelScale)
}

// count is an exact number of things.
func count(n int) stats.Value { return stats.Known(float64(n), math.NaN(), n) }

// ofPlate is a figure of a sub's place on the sky.
func ofPlate(get func(*plate.Solution) stats.Value) func(*night.Sub) stats.Value {
	return ofPixels(func(s *night.Sub) stats.Value {
		if s.Plate.Solution == nil {
			return stats.Missing(s.Plate.Why)
		}
		return get(s.Plate.Solution)
	})
}

func zeroPointErr(s *night.Sub) stats.Value {
	if !s.ZeroPoint.OK() {
		return s.ZeroPoint
	}
	return stats.Known(s.ZeroPoint.Err, math.NaN(), s.ZeroPoint.N)
}
