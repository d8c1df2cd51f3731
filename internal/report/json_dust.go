package report

import (
	"fitsqa/internal/dust"
	"fitsqa/internal/names"
	"fitsqa/internal/say"
)

type dustJSON struct {
	Group         string           `json:"group"`
	Flat          string           `json:"flat"`
	Filter        names.Name       `json:"filter"`
	Subs          int              `json:"subs"`
	Told          int              `json:"shadows_told"`
	Wrong         int              `json:"shadows_wrong"`
	WorstPct      figure           `json:"worst_residue_pct"`
	ShiftX        figure           `json:"shift_x_px"`
	ShiftY        figure           `json:"shift_y_px"`
	RotationDeg   figure           `json:"rotation_deg"`
	DiameterRatio figure           `json:"diameter_ratio"`
	Reason        string           `json:"reason"`
	Sentence      string           `json:"sentence"`
	Remedy        string           `json:"remedy"`
	Finding       factJSON         `json:"finding"`
	Shadows       []dustShadowJSON `json:"shadows"`
	New           []shadowJSON     `json:"new"`
}

type shadowJSON struct {
	X        real   `json:"x_px"`
	Y        real   `json:"y_px"`
	Diameter real   `json:"diameter_px"`
	DepthPct real   `json:"depth_pct"`
	On       string `json:"on"`
}

type dustShadowJSON struct {
	shadowJSON
	State      string `json:"state"`
	Reason     string `json:"reason"`
	Imprint    figure `json:"imprint"`
	ResiduePct figure `json:"residue_pct"`
	MovedX     real   `json:"moved_x_px"`
	MovedY     real   `json:"moved_y_px"`
}

func newShadowJSON(s dust.Shadow) shadowJSON {
	return shadowJSON{real(s.X), real(s.Y), real(s.Diameter), real(s.DepthPct), s.On}
}

func newDustJSON(d dust.Match) dustJSON {
	j := dustJSON{
		Group: d.Lights, Flat: d.Flat, Filter: d.Filter, Subs: d.Subs, Told: d.Told, Wrong: d.Wrong,
		WorstPct: newFigure(d.WorstPct), ShiftX: newFigure(d.ShiftX), ShiftY: newFigure(d.ShiftY),
		RotationDeg: newFigure(d.RotationDeg), DiameterRatio: newFigure(d.DiameterRatio),
		Reason: say.Fact(d.Why), Sentence: say.Fact(d.Found), Finding: newFactJSON(d.Found), Remedy: say.DustRemedy(&d), Shadows: []dustShadowJSON{}, New: []shadowJSON{},
	}
	for _, m := range d.Shadows {
		j.Shadows = append(j.Shadows, dustShadowJSON{
			newShadowJSON(m.Shadow), m.State, say.Fact(m.Why), newFigure(m.Imprint), newFigure(m.ResiduePct), real(m.MovedX), real(m.MovedY),
		})
	}
	for _, s := range d.New {
		j.New = append(j.New, newShadowJSON(s))
	}
	return j
}
