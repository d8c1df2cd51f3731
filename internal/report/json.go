package report

import (
	_ "embed"
	"io"
	"iter"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

// schemaVersion counts the incompatible changes of night.json.
const schemaVersion = 2

// schemaText is the JSON Schema (draft 2020-12) of night.json. It documents every
// name.
//
//go:embed night.schema.json
var schemaText []byte

// JSON writes everything that r holds, as night.schema.json describes it.
func JSON(w io.Writer, r *night.Result) error {
	return writeObject(w, newDocument(r))
}

// document is night.json. The names of its fields are described in
// night.schema.json.
type document struct {
	SchemaVersion int                 `json:"schema_version"`
	Program       string              `json:"program"`
	FinishedUTC   *string             `json:"finished_utc"`
	Roots         []string            `json:"roots"`
	Summary       summaryJSON         `json:"summary"`
	Answer        answerJSON          `json:"answer"`
	Settings      map[string]any      `json:"settings"`
	Limits        map[string]any      `json:"limits"`
	Frames        iter.Seq[frameJSON] `json:"frames"`
	Subs          iter.Seq[subJSON]   `json:"subs"`
	Groups        []groupJSON         `json:"groups"`
	Events        []eventJSON         `json:"events"`
	Focus         []focusJSON         `json:"focus"`
	FocusLaws     []focusLawJSON      `json:"focus_laws"`
	Fields        []fieldJSON         `json:"fields"`
	Motions       []motionJSON        `json:"motions"`
	Extinctions   []extinctJSON       `json:"extinctions"`
	Field         []placeJSON         `json:"field"`
	Calibration   []setJSON           `json:"calibration"`
	Coverage      []coverageJSON      `json:"coverage"`
	Worth         []worthJSON         `json:"worth"`
	MasterWorth   []masterJSON        `json:"master_worth"`
	Dust          []dustJSON          `json:"dust"`
	Plan          []string            `json:"plan"`
	Exposures     []exposureJSON      `json:"exposures"`
	Nights        []nightJSON         `json:"nights"`
	Goals         []goalJSON          `json:"goals"`
	Shopping      []shoppingJSON      `json:"shopping"`
	Warnings      []string            `json:"warnings"`
	WarningFacts  []factJSON          `json:"warning_facts"`
}

type summaryJSON struct {
	Files    int            `json:"files"`
	Unusable int            `json:"unusable"`
	Masters  int            `json:"masters"`
	Kinds    map[string]int `json:"kinds"`
	tally
	ShotS            real `json:"shot_s"`
	UsableS          real `json:"usable_s"`
	EquivalentClearS real `json:"equivalent_clear_s"`
}

type fieldJSON struct {
	Group    string   `json:"group"`
	Map      mapJSON  `json:"map"`
	Findings []string `json:"findings"`
	Notes    []string `json:"notes"`

	FindingFacts []factJSON `json:"finding_facts"`
	NoteFacts    []factJSON `json:"note_facts"`
}

type motionJSON struct {
	Target       names.Name `json:"target"`
	Camera       names.Name `json:"camera"`
	Dither       figure     `json:"dither_px"`
	Drift        figure     `json:"drift_px_per_h"`
	Rotation     figure     `json:"rotation_deg_per_h"`
	PolarError   figure     `json:"polar_error_at_least_arcmin"`
	CornerTrail  figure     `json:"corner_trail_px"`
	Jumped       []string   `json:"jumped_before"`
	Lost         []string   `json:"other_field"`
	Findings     []string   `json:"findings"`
	FindingFacts []factJSON `json:"finding_facts"`
}

type extinctJSON struct {
	Target names.Name `json:"target"`
	Filter names.Name `json:"filter"`
	Camera names.Name `json:"camera"`
	Night  string     `json:"night"`
	K      figure     `json:"extinction_mag_per_airmass"`
	From   real       `json:"airmass_from"`
	To     real       `json:"airmass_to"`
}

func newDocument(r *night.Result) document {
	sum := summarize(r)
	d := document{
		SchemaVersion: schemaVersion,
		Program:       r.Program,
		FinishedUTC:   stampOrNull(r.Finished),
		Roots:         list(r.Roots),
		Summary: summaryJSON{
			Files: sum.Files, Unusable: len(sum.Unusable), Masters: sum.Masters, Kinds: map[string]int{},
			tally: sum.Total,
			ShotS: real(sum.ShotS), UsableS: real(sum.UsableS), EquivalentClearS: real(sum.EquivalentS),
		},
		Answer:   newAnswerJSON(r),
		Settings: map[string]any{},
		Limits:   map[string]any{},
		Frames:   entries(r.Frames, newFrameJSON), Subs: entries(r.Subs, newSubJSON), Groups: []groupJSON{}, Events: []eventJSON{},
		Focus: []focusJSON{}, FocusLaws: []focusLawJSON{},
		Fields: []fieldJSON{}, Motions: []motionJSON{}, Extinctions: []extinctJSON{}, Calibration: []setJSON{}, Coverage: []coverageJSON{}, Worth: []worthJSON{}, Dust: []dustJSON{},
		MasterWorth: []masterJSON{}, Field: []placeJSON{},
		Plan: []string{}, Exposures: []exposureJSON{}, Nights: []nightJSON{}, Goals: []goalJSON{}, Shopping: []shoppingJSON{},
		Warnings: list(say.Warnings(r)), WarningFacts: newFactsJSON(r.Warnings),
	}
	for kind, n := range sum.Kinds {
		d.Summary.Kinds[kindName(kind)] = n
	}
	for _, s := range settingsOf(r.Settings) {
		if s.section == "limits" {
			d.Limits[s.name] = s.value
		} else {
			d.Settings[s.section+"."+s.name] = s.value
		}
	}
	for _, g := range sum.Groups {
		d.Groups = append(d.Groups, newGroupJSON(g))
	}
	if r.Verdicts != nil {
		d.addVerdicts(r.Verdicts)
	}
	d.addField(r)
	d.addCalibration(r)
	if r.Plan != nil {
		d.addPlan(r.Plan)
	}
	return d
}

// addVerdicts fills in what happened over several subs.
func (d *document) addVerdicts(v *subs.Result) {
	for _, e := range v.Events {
		d.Events = append(d.Events, eventJSON{string(e.Cause), stampOrNull(e.Start), stampOrNull(e.End), e.Subs, say.Event(e)})
	}
	for _, f := range v.FocusDrifts {
		d.Focus = append(d.Focus, newFocusJSON(f))
	}
	for _, l := range v.FocusLaws {
		d.FocusLaws = append(d.FocusLaws, newFocusLawJSON(l))
	}
}

// addField fills in the field of view: its shape, its motion, its place, the air before it.
func (d *document) addField(r *night.Result) {
	for _, f := range r.Fields {
		d.Fields = append(d.Fields, fieldJSON{f.Group, newMapJSON(f.Map), list(say.Each(f.Findings)), list(say.Each(f.Notes)), newFactsJSON(f.Findings), newFactsJSON(f.Notes)})
	}
	for _, m := range r.Motions {
		d.Motions = append(d.Motions, motionJSON{m.Target, m.Camera, newFigure(m.Dither), newFigure(m.Drift), newFigure(m.Rotation),
			newFigure(m.PolarError), newFigure(m.CornerTrail), list(m.Jumped), list(m.Lost), list(say.Each(m.Findings)), newFactsJSON(m.Findings)})
	}
	for _, e := range r.Extinctions {
		d.Extinctions = append(d.Extinctions, extinctJSON{e.Target, e.Filter, e.Camera, e.Night, newFigure(e.K), real(e.From), real(e.To)})
	}
	for i := range r.Places {
		d.Field = append(d.Field, newPlaceJSON(&r.Places[i]))
	}
}

// addCalibration fills in the calibration frames, and what they do for the subs.
func (d *document) addCalibration(r *night.Result) {
	if r.Calib != nil {
		for _, s := range r.Calib.Sets {
			d.Calibration = append(d.Calibration, newSetJSON(s))
		}
		for _, c := range r.Calib.Coverage {
			d.Coverage = append(d.Coverage, coverageJSON{
				c.Lights.Label(), newMatchJSON(c.Bias), newMatchJSON(c.Dark), newMatchJSON(c.Flat),
			})
		}
	}
	for i := range r.Worth {
		d.Worth = append(d.Worth, newWorthJSON(&r.Worth[i]))
	}
	for i := range r.MasterWorth {
		d.MasterWorth = append(d.MasterWorth, newMasterJSON(&r.MasterWorth[i]))
	}
	for _, m := range r.Dust {
		d.Dust = append(d.Dust, newDustJSON(m))
	}
}
