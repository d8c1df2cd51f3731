package report

import (
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"io"
	"iter"
	"math"
	"path/filepath"
	"time"
	"unicode/utf8"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// schemaVersion counts the incompatible changes of night.json.
const schemaVersion = 2

// Schema is the JSON Schema (draft 2020-12) of night.json. It documents every
// name.
//
//go:embed night.schema.json
var Schema []byte

// JSON writes everything that r holds, as night.schema.json describes it.
func JSON(w io.Writer, r *night.Result) error {
	return writeObject(w, newDocument(r))
}

// real is a number that JSON writes as null when there is none.
type real float64

func (x real) MarshalJSON() ([]byte, error) {
	v := float64(x)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

func reals(xs []float64) []real {
	out := make([]real, len(xs))
	for i, x := range xs {
		out[i] = real(x)
	}
	return out
}

// figure is a measured number: value and uncertainty are null when there is
// none, and reason says why the value is.
type figure struct {
	Value       real   `json:"value"`
	Uncertainty real   `json:"uncertainty"`
	N           int    `json:"n"`
	Reason      string `json:"reason,omitempty"`
}

func newFigure(v stats.Value) figure {
	if !v.OK() {
		why := v.Why
		if why == "" {
			why = "not measured"
		}
		return figure{Value: real(math.NaN()), Uncertainty: real(math.NaN()), N: v.N, Reason: why}
	}
	return figure{Value: real(v.V), Uncertainty: real(v.Err), N: v.N}
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
	Files            int            `json:"files"`
	Unusable         int            `json:"unusable"`
	Masters          int            `json:"masters"`
	Kinds            map[string]int `json:"kinds"`
	Subs             int            `json:"subs"`
	Keep             int            `json:"keep"`
	Doubtful         int            `json:"doubtful"`
	NotJudged        int            `json:"not_judged"`
	Cull             int            `json:"cull"`
	ShotS            real           `json:"shot_s"`
	UsableS          real           `json:"usable_s"`
	EquivalentClearS real           `json:"equivalent_clear_s"`
}

// fileJSON identifies a file on disk.
type fileJSON struct {
	Name        string `json:"name"`
	Path        string `json:"path"`
	PathBytes   string `json:"path_bytes,omitempty"` // base64, when path is not valid UTF-8
	SizeBytes   int64  `json:"size_bytes"`
	ModifiedUTC string `json:"modified_utc"`
}

type frameJSON struct {
	fileJSON
	Kind       string   `json:"kind"`
	KindSource string   `json:"kind_source"`
	Master     bool     `json:"master"`
	Width      int      `json:"width_px"`
	Height     int      `json:"height_px"`
	Planes     int      `json:"planes"`
	Warnings   []string `json:"warnings"`
	Error      string   `json:"error,omitempty"`
}

type groupJSON struct {
	Label            string          `json:"label"`
	Target           names.Name      `json:"target"`
	Filter           names.Name      `json:"filter"`
	ExposureS        real            `json:"exposure_s"`
	Subs             int             `json:"subs"`
	Keep             int             `json:"keep"`
	Doubtful         int             `json:"doubtful"`
	NotJudged        int             `json:"not_judged"`
	Cull             int             `json:"cull"`
	ShotS            real            `json:"shot_s"`
	UsableS          real            `json:"usable_s"`
	EquivalentClearS real            `json:"equivalent_clear_s"`
	SeasonClearS     real            `json:"season_clear_s"`
	Season           seasonJSON      `json:"season"`
	LostS            map[string]real `json:"lost_s"`
	Economics        economicsJSON   `json:"economics"`
	Poor             []string        `json:"poor"`
	Notes            []string        `json:"notes"`
	NoteFacts        []factJSON      `json:"note_facts"`
}

type economicsJSON struct {
	Stacked         int        `json:"stacked"`
	Plain           []real     `json:"plain"`
	Scaled          []real     `json:"scaled"`
	Weighted        []real     `json:"weighted"`
	FWHM            []real     `json:"fwhm_px"`
	Ellipticity     []real     `json:"ellipticity"`
	Marks           []markJSON `json:"marks"`
	BestDrop        int        `json:"best_drop"`
	UserDrop        int        `json:"user_drop"`
	UserPlain       real       `json:"user_plain"`
	UserScaled      real       `json:"user_scaled"`
	UserWeighted    real       `json:"user_weighted"`
	UserFWHM        real       `json:"user_fwhm_px"`
	UserEllipticity real       `json:"user_ellipticity"`
	UserClearS      real       `json:"user_clear_s"`
	Words           string     `json:"words"`
}

// markJSON is the cut that is best for one aim.
type markJSON struct {
	Aim  string `json:"aim"`
	Drop int    `json:"drop"`
}

type eventJSON struct {
	Cause    string  `json:"cause"`
	StartUTC *string `json:"start_utc"`
	EndUTC   *string `json:"end_utc"`
	Subs     int     `json:"subs"`
	Words    string  `json:"words"`
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

type mapJSON struct {
	Cols  int        `json:"cols"`
	Rows  int        `json:"rows"`
	Cells []cellJSON `json:"cells"`
}

type cellJSON struct {
	X           real `json:"x_px"`
	Y           real `json:"y_px"`
	Stars       int  `json:"stars"`
	FWHM        real `json:"fwhm_px"`
	Ellipticity real `json:"ellipticity"`
	Angle       real `json:"elongation_angle_deg"`
}

// newDocument fills night.json from r.
func newDocument(r *night.Result) document {
	sum := summarize(r)
	d := document{
		SchemaVersion: schemaVersion,
		Program:       r.Program,
		FinishedUTC:   stampOrNull(r.Finished),
		Roots:         list(r.Roots),
		Summary: summaryJSON{
			Files: sum.Files, Unusable: len(sum.Unusable), Masters: sum.Masters, Kinds: map[string]int{},
			Subs: sum.Total.Subs, Keep: sum.Total.Keep, Doubtful: sum.Total.Doubtful, Cull: sum.Total.Cull, NotJudged: sum.Total.NotJudged,
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

// stampOrNull is a time, or null when it is unknown.
func stampOrNull(t time.Time) *string {
	s := stamp(t)
	if s == "" {
		return nil
	}
	return &s
}

// list is never null in JSON.
func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

func kindName(k frames.Kind) string {
	if k == frames.Unknown {
		return "unknown"
	}
	return string(k)
}

func newFileJSON(f *frames.Frame) fileJSON {
	path, err := filepath.Abs(f.Path)
	if err != nil { // no current folder any more: the path as it was given
		path = f.Path
	}
	file := fileJSON{Name: f.Name, Path: path, SizeBytes: f.Size, ModifiedUTC: nanoStamp(f.ModTime)}
	if !utf8.ValidString(path) {
		file.PathBytes = base64.StdEncoding.EncodeToString([]byte(path))
	}
	return file
}

func newFrameJSON(f *frames.Frame) frameJSON {
	j := frameJSON{
		fileJSON: newFileJSON(f), Kind: kindName(f.Kind), KindSource: string(f.KindSource), Master: f.Master,
		Width: f.Image.Width, Height: f.Image.Height, Planes: f.Image.Planes, Warnings: list(f.Warnings),
	}
	if f.Err != nil {
		j.Error = f.Err.Error()
	}
	return j
}

func causeCodes(all []subs.Cause) []string {
	out := []string{}
	for _, c := range all {
		out = append(out, string(c))
	}
	return out
}

func marks(all []subs.Mark) []markJSON {
	out := []markJSON{}
	for _, m := range all {
		out = append(out, markJSON{string(m.Aim), m.Drop})
	}
	return out
}

func newGroupJSON(g groupSummary) groupJSON {
	j := groupJSON{
		Label: g.Label, Target: g.Target, Filter: g.Filter, ExposureS: real(g.Exposure),
		Subs: g.tally.Subs, Keep: g.Keep, Doubtful: g.Doubtful, Cull: g.Cull, NotJudged: g.NotJudged,
		ShotS: real(g.ShotSeconds), UsableS: real(g.UsableSeconds), EquivalentClearS: real(g.EquivalentClearSeconds),
		SeasonClearS: real(g.Season.Clear.V), Season: newSeasonJSON(g.Season),
		LostS: map[string]real{}, Notes: list(say.GroupNotes(g.Group)), NoteFacts: newFactsJSON(g.Notes),
		Poor: causeCodes(g.Poor),
		Economics: economicsJSON{
			Stacked: g.Economics.Stacked, Plain: reals(g.Economics.Plain), Scaled: reals(g.Economics.Scaled), Weighted: reals(g.Economics.Weighted),
			FWHM: reals(g.Economics.FWHM), Ellipticity: reals(g.Economics.Ellipticity), Marks: marks(g.Economics.Marks),
			BestDrop: g.Economics.BestDrop, UserDrop: g.Economics.UserDrop,
			UserPlain: real(g.Economics.UserPlain), UserScaled: real(g.Economics.UserScaled), UserWeighted: real(g.Economics.UserWeighted),
			UserFWHM: real(g.Economics.UserFWHM), UserEllipticity: real(g.Economics.UserEllipticity), UserClearS: real(g.Economics.UserClearSeconds),
			Words: say.Economics(&g.Economics),
		},
	}
	for c, s := range g.LostSeconds {
		j.LostS[string(c)] = real(s)
	}
	return j
}

func newMapJSON(m stars.Map) mapJSON {
	j := mapJSON{Cols: m.Cols, Rows: m.Rows, Cells: []cellJSON{}}
	for _, c := range m.Cells {
		j.Cells = append(j.Cells, cellJSON{real(c.X), real(c.Y), c.Stars, real(c.FWHM), real(c.Ellipticity), real(c.Angle)})
	}
	return j
}
