package report

import (
	"fmt"
	"hash/fnv"
	"html/template"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/sky"
	"fitsqa/internal/subs"
)

// subRowView is one sub in the table and in the contact sheet.
type subRowView struct {
	Index                                        int
	Base                                         string // the name without its folders
	Name, Start, Local, Target, Filter, Exposure string
	Figures                                      []string // one a column of figures
	Verdict, Causes                              string
	Mark                                         string // name of the verdict's mark
	Sentence                                     string
	UserDecision                                 bool
	Picture                                      template.HTMLAttr // empty when there is none
	PictureWidth, PictureHeight                  int
	Long                                         bool   // the name needs more than one line
	PictureMissing                               string // why
}

type pageData struct {
	Filters  []string               `json:"filters"`
	Groups   []string               `json:"groups"`
	Figures  map[string]figureWords `json:"figures"` // by their keys in subData
	Subs     []subData              `json:"subs"`
	Events   []eventData            `json:"events"`
	Lines    []groupLines           `json:"lines"`    // of each group
	Local    real                   `json:"local"`    // local time ahead of UTC, s
	Twilight [][2]real              `json:"twilight"` // from, to: Unix time, s
	MoonUp   [][2]real              `json:"moonUp"`
}

// subData is one sub for the scripts; figures that are missing are null.
type subData struct {
	ID           string   `json:"id"` // of the file: path, size and time
	Name         string   `json:"name"`
	Decision     string   `json:"decision"` // name as a decision file has it
	Decided      string   `json:"decided"`  // the user's own verdict so far
	Start        real     `json:"start"`    // Unix time, s
	Exposure     real     `json:"exposure"` // s
	Filter       int      `json:"filter"`
	Group        int      `json:"group"`
	Measured     string   `json:"measured"` // verdict of the figures
	Causes       []string `json:"causes"`
	Sentence     string   `json:"sentence"`
	Sky          real     `json:"sky"`
	Stars        real     `json:"stars"`
	FWHM         real     `json:"fwhm"`
	Beta         real     `json:"beta"` // of the star images' profile
	FWHMArcsec   real     `json:"fwhmArcsec"`
	HFD          real     `json:"hfd"`
	Ellipticity  real     `json:"ellipticity"`
	Angle        real     `json:"angle"`
	Coherence    real     `json:"coherence"`
	Transparency real     `json:"transparency"`
	Season       real     `json:"season"` // transparency on the scale of the season's best night
	SkyMag       real     `json:"skyMag"`
	Limit        real     `json:"limit"` // magnitude of the faintest stars
	Weight       real     `json:"weight"`
	Airmass      real     `json:"airmass"`
	Ambient      real     `json:"ambient"` // °C
	Focus        real     `json:"focus"`   // focuser position
	SunAlt       real     `json:"sunAlt"`
	MoonAlt      real     `json:"moonAlt"`
	MoonLit      real     `json:"moonLit"`
	Strip        string   `json:"strip"` // its brightest stars: where the picture is, empty when there are none
	Large        string   `json:"large"` // the whole frame, larger; likewise
}

// groupLines are the doubtful and the cull limit of figures, by their keys in
// subData.
type groupLines map[string][2]real

var lineKeys = []string{"transparency", "ellipticity", "fwhm", "sky"}

func newGroupLines(lines []subs.Line, level string) groupLines {
	out := groupLines{}
	for _, l := range lines {
		for _, key := range lineKeys {
			if measureAt(key, level).name == l.Figure {
				out[key] = [2]real{real(l.Doubtful), real(l.Cull)}
			}
		}
	}
	return out
}

type eventData struct {
	Start real   `json:"start"`
	End   real   `json:"end"`
	Cause string `json:"cause"`
	Words string `json:"words"`
}

// addSubs fills the table, the contact sheet and the data of the scripts.
func (p *page) addSubs(r *night.Result, beside *shelf) error {
	pictures := newGallery(r, beside)
	p.pageFrame = newPageFrame(scripts, pictures.shelf != nil)
	filters, groups := indexer{}, indexer{}
	p.Data = pageData{Subs: []subData{}, Events: []eventData{}, Twilight: spans(r.Twilight), MoonUp: spans(r.MoonUp)}
	level := skyFigure(r)
	p.Columns, p.Data.Figures = figureHeads(tableKeys, level), pageWords(level)
	layout, arcsec := startLayout(r), false
	for i, s := range r.Subs {
		row := newSubRow(i, s, level, layout, r.Local)
		d := newSubData(s, level)
		arcsec = arcsec || !math.IsNaN(float64(d.FWHMArcsec))
		d.Filter = filters.of(orNone(s.Filter, "no filter"))
		d.Group = groups.of(frames.Printable(s.Group))
		if err := pictures.show(i, &row, &d); err != nil {
			return err
		}
		p.Subs = append(p.Subs, row)
		p.Data.Subs = append(p.Data.Subs, d)
		for _, c := range s.Causes {
			if name := say.Cause(c); !slices.Contains(p.Causes, name) {
				p.Causes = append(p.Causes, name)
			}
		}
	}
	p.Numbers = numberHeads(level, arcsec)
	slices.Sort(p.Causes)
	p.Data.Filters, p.Data.Groups = filters.names, groups.names
	p.Data.Local = localAhead(r.Local)
	p.Data.Lines = make([]groupLines, len(groups.names))
	if r.Verdicts != nil {
		for _, g := range r.Verdicts.Groups {
			if i := slices.Index(groups.names, frames.Printable(g.Label)); i >= 0 {
				p.Data.Lines[i] = newGroupLines(g.Lines(r.Settings.Limits), level)
			}
		}
	}
	p.Filters = filters.names
	if r.Verdicts != nil {
		for _, e := range r.Verdicts.Events {
			if !e.Start.IsZero() && !e.End.IsZero() {
				p.Data.Events = append(p.Data.Events, eventData{unix(e.Start), unix(e.End), say.Cause(e.Cause), say.Typeset(frames.Printable(say.Event(e)))})
			}
		}
	}
	return nil
}

// skyFigure is the figure that tells the subs' sky: e-/s per pixel where every
// measured sub has it, else ADU for all, so that subs compare.
func skyFigure(r *night.Result) string {
	for _, s := range r.Subs {
		if !figureOf(s, "sky_e_per_s").OK() && figureOf(s, "sky_adu").OK() {
			return "sky_adu"
		}
	}
	return "sky_e_per_s"
}

func newSubRow(i int, s *night.Sub, level, layout string, local night.LocalTime) subRowView {
	v := subRowView{
		Index: i, Name: frames.Printable(s.File), Base: frames.Printable(path.Base(s.File)), Start: "-", Target: orNone(s.Target, "-"), Filter: orNone(s.Filter, "-"),
		Exposure: exposureWords(s.Exposure), Figures: figureTexts(s, level),
		Verdict: string(s.Verdict), Mark: strings.ReplaceAll(string(s.Verdict), " ", "-"), Causes: strings.ReplaceAll(causeList(s, ", "), "_", " "),
		Sentence: say.Typeset(frames.Printable(say.Sub(s.Sub))), UserDecision: s.UserDecision,
	}
	if !s.Start.IsZero() {
		v.Start = s.Start.UTC().Format(layout)
		if local.Known {
			v.Local = s.Start.UTC().Add(local.Ahead).Format("15:04:05")
		}
	}
	v.Long = width(v.Name) > 40
	v.PictureMissing = "no picture"
	if s.ReadErr != "" {
		v.PictureMissing += ": " + frames.Printable(s.ReadErr)
	}
	return v
}

func newSubData(s *night.Sub, level string) subData {
	get := func(name string) real { return real(figureOf(s, name).V) }
	d := subData{
		Name: frames.Printable(s.File), Decision: subs.DecisionName(s.File), Decided: string(s.Decision),
		Start: real(math.NaN()), Exposure: real(s.Exposure),
		ID: subID(s), Measured: string(s.Measured), FWHMArcsec: get("fwhm_arcsec"), Causes: []string{}, Sentence: say.Typeset(frames.Printable(say.Sub(s.Sub))),
		Sky:   get(level),
		Stars: get("stars"), FWHM: get("fwhm_px"), Beta: real(math.NaN()), HFD: get("hfd_px"), Ellipticity: get("ellipticity"),
		Angle: get("elongation_angle_deg"), Coherence: get("coherence"), Transparency: get("transparency"), Weight: get("weight"),
		Season: get("season_transparency"), SkyMag: get("sky_mag_arcsec2"), Limit: get("limiting_mag"),
		Airmass: get("airmass"), Ambient: real(s.AmbientTemp), Focus: real(s.FocusPosition),
		SunAlt: get("sun_alt_deg"), MoonAlt: get("moon_alt_deg"), MoonLit: get("moon_lit_pct"),
	}
	if s.Field != nil {
		d.Beta = real(subs.Exponent(s.Field))
	}
	if !s.Start.IsZero() {
		d.Start = unix(s.Start)
	}
	for _, c := range s.Causes {
		d.Causes = append(d.Causes, say.Cause(c))
	}
	return d
}

// subID tells one night's file from another's of the same name, in the
// browser's store.
func subID(s *night.Sub) string {
	hash := fnv.New64a()
	if s.Frame != nil {
		f := newFileJSON(s.Frame)
		fmt.Fprintf(hash, "%s\x00%s\x00%d\x00%s", f.Path, f.PathBytes, f.SizeBytes, f.ModifiedUTC)
	}
	fmt.Fprintf(hash, "\x00%s", s.File)
	return fmt.Sprintf("%016x", hash.Sum64())
}

func spans(all []sky.Span) [][2]real {
	out := [][2]real{}
	for _, s := range all {
		out = append(out, [2]real{unix(s.Start), unix(s.End)})
	}
	return out
}

func unix(t time.Time) real { return real(float64(t.UnixMilli()) / 1000) }

type indexer struct{ names []string }

func (x *indexer) of(name string) int {
	if i := slices.Index(x.names, name); i >= 0 {
		return i
	}
	x.names = append(x.names, name)
	return len(x.names) - 1
}
