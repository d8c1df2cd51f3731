package report

import (
	"fitsqa/internal/night"
	"fitsqa/internal/plate"
	"fitsqa/internal/say"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// placeJSON is where one target's subs lie on the sky. Figures are null with the reason
// when the field was not found.
type placeJSON struct {
	Target        string     `json:"target"`
	Camera        string     `json:"camera"`
	File          string     `json:"file"`
	Solved        bool       `json:"solved"`
	Reason        string     `json:"reason,omitempty"`
	RA            figure     `json:"ra_deg"`
	Dec           figure     `json:"dec_deg"`
	PositionAngle figure     `json:"position_angle_deg"`
	Scale         figure     `json:"scale_arcsec_px"`
	Width         figure     `json:"width_deg"`
	Height        figure     `json:"height_deg"`
	FocalLength   figure     `json:"focal_length_mm"`
	PointingErr   figure     `json:"pointing_error_arcmin"`
	RMS           figure     `json:"rms_arcsec"`
	LogOdds       figure     `json:"log10_odds_of_chance"`
	Mirrored      *bool      `json:"mirrored"`
	Matched       int        `json:"matched_stars"`
	InField       int        `json:"catalogue_stars"`
	Subs          int        `json:"subs_placed"`
	Findings      []string   `json:"findings"`
	FindingFacts  []factJSON `json:"finding_facts"`
}

func newPlaceJSON(p *night.Place) placeJSON {
	j := placeJSON{Target: p.Target, Camera: p.Camera, File: p.File, Solved: p.Solution != nil, Reason: say.Fact(p.Why),
		FocalLength: newFigure(p.FocalLength), PointingErr: newFigure(p.PointingErr), Subs: p.Subs, Findings: list(say.Each(p.Findings)), FindingFacts: newFactsJSON(p.Findings)}
	of := func(get func(*plate.Solution) stats.Value) figure {
		if p.Solution == nil {
			return newFigure(stats.Because(p.Why))
		}
		return newFigure(get(p.Solution))
	}
	j.RA = of(func(s *plate.Solution) stats.Value { return s.Centre()[0] })
	j.Dec = of(func(s *plate.Solution) stats.Value { return s.Centre()[1] })
	j.PositionAngle, j.Scale = of((*plate.Solution).Angle), of((*plate.Solution).ScaleErr)
	j.Width = of(func(s *plate.Solution) stats.Value { w, _ := s.Extent(); return w })
	j.Height = of(func(s *plate.Solution) stats.Value { _, h := s.Extent(); return h })
	j.RMS = of(func(s *plate.Solution) stats.Value { return s.Scatter() })
	j.LogOdds = of(func(s *plate.Solution) stats.Value { return stats.Known(s.LogOdds, 0, s.Stars) })
	if p.Solution != nil {
		j.Mirrored, j.Matched, j.InField = &p.Mirrored, p.Stars, p.InField
	}
	return j
}

// seasonJSON sets a group against the best night of its season.
type seasonJSON struct {
	Level      figure `json:"level"`
	Reference  string `json:"reference"`
	Share      figure `json:"share"`
	Clear      figure `json:"clear_s"`
	Best       string `json:"best_night"`
	Throughput figure `json:"throughput"`
	ZeroPoint  figure `json:"zero_point_mag"`
	SkyMag     figure `json:"sky_mag_arcsec2"`
	Limit      figure `json:"limiting_mag"`
	Surface    figure `json:"surface_limit_mag_arcsec2"`
	FWHM       figure `json:"fwhm_arcsec"`
	BestFWHM   figure `json:"best_fwhm_arcsec"`
	Light      figure `json:"light"`
	Noise      figure `json:"noise_e2_s_arcsec2"`
	BestNoise  figure `json:"best_noise_e2_s_arcsec2"`
}

func newSeasonJSON(s subs.Season) seasonJSON {
	return seasonJSON{newFigure(s.Level), s.Reference, newFigure(s.Share), newFigure(s.Clear), s.Best, newFigure(s.Throughput),
		newFigure(s.ZeroPoint), newFigure(s.SkyMag), newFigure(s.Limit), newFigure(s.Surface), newFigure(s.FWHM), newFigure(s.BestFWHM),
		newFigure(s.Light), newFigure(s.Noise), newFigure(s.BestNoise)}
}
