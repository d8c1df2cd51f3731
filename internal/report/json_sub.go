package report

import (
	"math"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/stars"
)

type subJSON struct {
	fileJSON
	Target        names.Name        `json:"target"`
	Filter        names.Name        `json:"filter"`
	Camera        names.Name        `json:"camera"`
	StartUTC      *string           `json:"start_utc"`
	ExposureS     real              `json:"exposure_s"`
	GainSetting   real              `json:"gain_setting"`
	OffsetSetting real              `json:"offset_setting"`
	SensorTemp    real              `json:"sensor_temp_c"`
	SetTemp       real              `json:"set_temp_c"`
	AmbientTemp   real              `json:"ambient_temp_c"`
	FocusPosition real              `json:"focus_position"`
	PierSide      string            `json:"pier_side"`
	Binning       int               `json:"binning"`
	Width         int               `json:"width_px"`
	Height        int               `json:"height_px"`
	PixelScale    real              `json:"pixel_scale_arcsec"`
	EPerADU       real              `json:"e_per_adu"`
	Calibrated    bool              `json:"calibrated"`
	Measures      map[string]figure `json:"measures"`
	Alignment     alignmentJSON     `json:"alignment"`
	Streaks       []streakJSON      `json:"streaks"`
	FieldMap      mapJSON           `json:"field_map"`
	Defocused     bool              `json:"defocused"`
	Notes         []string          `json:"notes"`
	NoteFacts     []factJSON        `json:"note_facts"`
	Group         string            `json:"group"`
	Verdict       string            `json:"verdict"`
	Measured      string            `json:"measured_verdict"`
	Causes        []string          `json:"causes"`
	Sentence      string            `json:"sentence"`
	Findings      []findingJSON     `json:"findings"`
	Remarks       []factJSON        `json:"remarks"`
	UserDecision  bool              `json:"user_decision"`
	DuplicateOf   string            `json:"duplicate_of,omitempty"`
	Error         string            `json:"error,omitempty"`
}

type alignmentJSON struct {
	Transform []real `json:"transform"` // A to F of X = A x + B y + C, Y = D x + E y + F; empty when not aligned
	Scale     real   `json:"scale"`
	Flipped   bool   `json:"flipped"`
	Pairs     int    `json:"matched_stars"`
}

type streakJSON struct {
	X0    real `json:"x0_px"`
	Y0    real `json:"y0_px"`
	X1    real `json:"x1_px"`
	Y1    real `json:"y1_px"`
	Width real `json:"width_px"`
}

func newSubJSON(s *night.Sub) subJSON {
	j := subJSON{
		Target: s.Target, Filter: s.Filter, Camera: s.Camera,
		ExposureS: real(s.Exposure), GainSetting: real(s.GainSetting), OffsetSetting: real(s.OffsetSetting),
		SensorTemp: real(s.SensorTemp), SetTemp: real(s.SetTemp), AmbientTemp: real(s.AmbientTemp),
		FocusPosition: real(s.FocusPosition), PierSide: s.PierSide, Binning: s.Binning,
		Width: s.Width, Height: s.Height, PixelScale: real(s.PixelScale), EPerADU: real(s.ElectronsPerADU),
		Calibrated: s.Calibrated, Measures: map[string]figure{}, Alignment: newAlignmentJSON(s),
		Streaks: []streakJSON{}, Notes: []string{}, NoteFacts: []factJSON{}, FieldMap: newMapJSON(stars.Map{}),
		Group: s.Group, Verdict: string(s.Verdict), Measured: string(s.Measured), Causes: causeCodes(s.Causes), Sentence: say.Sub(s.Sub),
		Findings: newFindingsJSON(s.Findings), Remarks: newFactsJSON(s.Remarks),
		UserDecision: s.UserDecision, DuplicateOf: s.DuplicateOf, Error: s.ReadErr,
	}
	if s.Frame != nil {
		j.fileJSON = newFileJSON(s.Frame)
	}
	j.Name = s.File
	j.StartUTC = stampOrNull(s.Start)
	for _, m := range measures {
		j.Measures[m.name] = newFigure(m.of(s))
	}
	if s.Field == nil {
		return j
	}
	j.FieldMap, j.Defocused = newMapJSON(s.Field.Map), s.Field.Defocused
	j.Notes, j.NoteFacts = list(say.Each(s.Field.Notes)), newFactsJSON(s.Field.Notes)
	for _, k := range s.Field.Streaks {
		j.Streaks = append(j.Streaks, streakJSON{real(k.X0), real(k.Y0), real(k.X1), real(k.Y1), real(k.Width)})
	}
	return j
}

func newAlignmentJSON(s *night.Sub) alignmentJSON {
	a := s.Align
	if s.Field == nil || !a.ShiftX.OK() {
		return alignmentJSON{Transform: []real{}, Scale: real(math.NaN())}
	}
	t := a.Transform
	return alignmentJSON{
		Transform: reals([]float64{t.A, t.B, t.C, t.D, t.E, t.F}),
		Scale:     real(a.Scale), Flipped: a.Flipped, Pairs: len(a.Pairs),
	}
}
