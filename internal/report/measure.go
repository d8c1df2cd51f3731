package report

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/plate"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// measure is what reports say of one figure of a sub, whatever its value.
type measure struct {
	name   string // in the output contract, e.g. "fwhm_px"
	title  string // as people call it
	unit   string // "ADU", "px", "°" ..., "" of a ratio or a number of things
	digits int    // decimals where people read it, or threeSignificant

	of func(*night.Sub) stats.Value
}

// threeSignificant stands for three significant digits in place of fixed decimals:
// skies differ by factors of thousands.
const threeSignificant = -1

func (m measure) heading() string {
	if m.unit == "" {
		return m.title
	}
	return m.title + ", " + m.unit
}

// text is the figure of a sub as people read it, "-" when missing.
func (m measure) text(s *night.Sub) string {
	if m.digits == threeSignificant {
		return significant(m.of(s).V, 3)
	}
	return decimals(m.of(s).V, m.digits)
}

var measures = slices.Concat(judgedBy, placedBy, besides)

// judgedBy are the columns of subs.csv before the verdict.
var judgedBy = []measure{
	{name: "sky_adu", title: "Sky", unit: "ADU", digits: threeSignificant, of: ofPixels(func(s *night.Sub) stats.Value { return s.SkyADU })},
	{name: "sky_e_per_s", title: "Sky", unit: "e-/s\u00a0per\u00a0px", digits: threeSignificant, of: ofPixels(func(s *night.Sub) stats.Value { return s.SkyRate })},
	{name: "noise_adu", title: "Noise of a pixel", unit: "ADU", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.RandomNoise })},
	{name: "stars", title: "Stars", unit: "", digits: 0, of: ofField(func(f *stars.Field) stats.Value { return count(f.Count) })},
	{name: "saturated_stars", title: "Saturated stars", unit: "", digits: 0, of: ofField(func(f *stars.Field) stats.Value { return count(f.Saturated) })},
	{name: "fwhm_px", title: "FWHM", unit: "px", digits: 2, of: ofShape(fwhmPixels)},
	{name: "fwhm_arcsec", title: "FWHM", unit: "″", digits: 2, of: fwhmArcsec},
	{name: "hfd_px", title: "HFD", unit: "px", digits: 2, of: ofShape(func(f *stars.Field) stats.Value { return f.HFD })},
	{name: "ellipticity", title: "Ellipticity", unit: "", digits: 2, of: ofShape(func(f *stars.Field) stats.Value { return f.Ellipticity })},
	{name: "elongation_angle_deg", title: "Angle", unit: "°", digits: 0, of: ofShape(func(f *stars.Field) stats.Value { return f.Angle })},
	{name: "coherence", title: "Coherence", unit: "", digits: 2, of: ofShape(func(f *stars.Field) stats.Value { return f.Coherence })},
	{name: "transparency", title: "Transparency", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.Transparency.Ratio })},
	{name: "gradient_pct", title: "Gradient", unit: "%", digits: 1, of: ofField(func(f *stars.Field) stats.Value { return f.GradientPct })},
	{name: "shift_x_px", title: "Shift along x", unit: "px", digits: 1, of: ofPixels(func(s *night.Sub) stats.Value { return s.Align.ShiftX })},
	{name: "shift_y_px", title: "Shift along y", unit: "px", digits: 1, of: ofPixels(func(s *night.Sub) stats.Value { return s.Align.ShiftY })},
	{name: "rotation_deg", title: "Rotation", unit: "°", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.Align.RotationDeg })},
	{name: "streaks", title: "Streaks", unit: "", digits: 0, of: ofField(func(f *stars.Field) stats.Value { return count(len(f.Streaks)) })},
	{name: "airmass", title: "Airmass", unit: "", digits: 2, of: func(s *night.Sub) stats.Value { return s.Sky.Airmass }},
	{name: "sun_alt_deg", title: "Sun's altitude", unit: "°", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.SunAlt }},
	{name: "moon_alt_deg", title: "Moon's altitude", unit: "°", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.MoonAlt }},
	{name: "moon_lit_pct", title: "Lit part of the Moon", unit: "%", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.MoonLitPct }},
	{name: "weight", title: "Weight", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.Weight })},
}

var placedBy = []measure{
	{name: "zero_point_mag", title: "Zero point", unit: "mag", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.ZeroPoint })},
	{name: "zero_point_err_mag", title: "Error of the zero point", unit: "mag", digits: 2, of: ofPixels(zeroPointErr)},
	{name: "sky_mag_arcsec2", title: "Sky", unit: "mag/arcsec²", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.SkyMag })},
	{name: "limiting_mag", title: "Stars to", unit: "mag", digits: 1, of: ofPixels(func(s *night.Sub) stats.Value { return s.LimitingMag })},
	{name: "ra_deg", title: "Right ascension", unit: "°", digits: 4, of: ofPlate(func(p *plate.Solution) stats.Value { return p.Centre()[0] })},
	{name: "dec_deg", title: "Declination", unit: "°", digits: 4, of: ofPlate(func(p *plate.Solution) stats.Value { return p.Centre()[1] })},
	{name: "position_angle_deg", title: "Position angle", unit: "°", digits: 2, of: ofPlate((*plate.Solution).Angle)},
	{name: "scale_arcsec_px", title: "Scale", unit: "″/px", digits: 3, of: ofPlate((*plate.Solution).ScaleErr)},
	{name: "season_transparency", title: "Of the season's best", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.SeasonTransparency })},
	{name: "weight_detail", title: "Weight for detail", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.WeightDetail })},
}

var besides = []measure{
	{name: "random_noise_adu", title: "Random noise", unit: "ADU", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.RandomNoise })},
	{name: "transparency_unevenness_pct", title: "Unevenness of the transparency", unit: "%", digits: 1, of: ofPixels(func(s *night.Sub) stats.Value { return s.Transparency.Unevenness })},
	{name: "halo_pct", title: "Light in halos", unit: "%", digits: 1, of: ofShape(func(f *stars.Field) stats.Value { return f.Halo.Scaled(100) })},
	{name: "target_alt_deg", title: "Target's altitude", unit: "°", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.TargetAlt }},
	{name: "hour_angle_deg", title: "Hour angle", unit: "°", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.HourAngle }},
	{name: "moon_separation_deg", title: "Moon to target", unit: "°", digits: 0, of: func(s *night.Sub) stats.Value { return s.Sky.MoonSeparation }},
	{name: "season_fwhm", title: "FWHM over the season's sharpest", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.SeasonFWHM })},
	{name: "season_weight", title: "Weight of the season's best", unit: "", digits: 2, of: ofPixels(func(s *night.Sub) stats.Value { return s.SeasonalWeight })},
	{name: "moonlight_mag", title: "Moonlight", unit: "mag", digits: 1, of: func(s *night.Sub) stats.Value { return s.Sky.MoonlightMag }},
}

// measureOf finds a figure by its name, which is one of the table's.
func measureOf(name string) measure {
	return measures[slices.IndexFunc(measures, func(m measure) bool { return m.name == name })]
}

func figureOf(s *night.Sub, name string) stats.Value { return measureOf(name).of(s) }

// unread is why nothing was measured of a sub's pixels.
func unread(s *night.Sub) stats.Value {
	if s.ReadErr != "" {
		return stats.Missing(night.ReadFailed, fact.Text("error", s.ReadErr))
	}
	return stats.Missing(night.SubUnmeasured)
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

func ofField(get func(*stars.Field) stats.Value) func(*night.Sub) stats.Value {
	return func(s *night.Sub) stats.Value {
		if s.Field == nil {
			return unread(s)
		}
		return get(s.Field)
	}
}

// ofShape is a figure of the shape of a field's stars, where its images are stars.
func ofShape(get func(*stars.Field) stats.Value) func(*night.Sub) stats.Value {
	return ofPixels(func(s *night.Sub) stats.Value {
		v := get(s.Field)
		if v.OK() && s.ShowsNoStars() {
			return stats.Missing(subs.NotOfStars)
		}
		return v
	})
}

func fwhmPixels(f *stars.Field) stats.Value { return f.FWHM }

func fwhmArcsec(s *night.Sub) stats.Value {
	fwhm := ofShape(fwhmPixels)(s)
	if fwhm.OK() && math.IsNaN(s.PixelScale) {
		return stats.Missing(night.NoScaleInHeader)
	}
	return fwhm.Scaled(s.PixelScale)
}

func count(n int) stats.Value { return stats.Known(float64(n), math.NaN(), n) }

// ofPlate is a figure of a sub's place on the sky.
func ofPlate(get func(*plate.Solution) stats.Value) func(*night.Sub) stats.Value {
	return ofPixels(func(s *night.Sub) stats.Value {
		if s.Plate.Solution == nil {
			return stats.Because(s.Plate.Why)
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
