package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/worth"
)

// page is what the template of report.html shows. Every text in it is plain:
// html/template escapes it where it stands.
type page struct {
	pageFrame
	Title     string
	Night     string
	Facts     string
	Yield     string
	Answer    []paragraph
	Groups    []groupRow
	All       *groupRow // their sum, where there are several
	Events    []string
	Causes    []string // of the night's subs, for the filter of the table
	Filters   []string
	Columns   []figureHead // of figures in the table of subs
	Numbers   []figureHead // figures that its rows can be chosen by
	Local     bool         // local time is known
	Subs      []subRowView
	Economics []figureView
	Losses    []string // what each group lost, in words
	Sky       []string // brightness and extinction
	Fields    []fieldView
	Motions   []motionRow
	Moved     []string // what the motions mean
	Worth     []worthView
	Masters   []string // are bias frames and flats enough
	Hot       *figureView
	Sets      []setView
	Coverage  []coverageView
	First     []string // what must be read before anything else
	Doubts    []string // the first Warnings that First does not tell
	Warnings  []string
	Unusable  []string
	Missing   []string
	Notes     []string // on the measurement of subs
	Methods   []method
	Settings  []settingRow
	Data      pageData
}

type paragraph struct {
	Title string
	Texts []string
	More  []string // for those who want to know it all
}

type groupRow struct {
	Label                      string
	Target, Filter, Exposure   string
	Subs, Keep, Doubtful, Cull int
	Shot, Usable, Clear        string
	Causes                     string
}

type fieldView struct {
	Group    string
	Figure   *figureView
	Findings []string
	Notes    []string
}

type worthView struct {
	Group   string
	Words   string
	Figure  *figureView
	Cases   []worthCaseRow
	Library string
}

type worthCaseRow struct {
	Correction, Dither, Sky, DarkShot, Read, Pattern, Master, Total, HotMean, Hot string
}

type coverageView struct {
	Group            string
	Bias, Dark, Flat fitView
}

type fitView struct {
	Fits  bool
	Words string
}

func newFitView(m calib.Match) fitView { return fitView{m.Fits, say.Fit(&m.Fit)} }

type settingRow struct{ Name, Value string }

// newPage has its pictures within, or on the shelf where they are too many; a nil
// shelf keeps them within.
func newPage(r *night.Result, beside *shelf) (*page, error) {
	sum, said := summarize(r), say.Of(r, r.Folder)
	p := &page{
		Title:    "Night report",
		Night:    "A night's frames",
		Facts:    contents(sum),
		Yield:    yieldWords(sum),
		Answer:   answerParagraphs(r, sum, said),
		First:    before(said),
		Doubts:   doubts(r),
		Warnings: printable(allWarnings(r)),
		Missing:  printable(missingTexts(r)),
		Notes:    printable(noteTexts(r)),
		Sky:      printable(skyTexts(r)),
		Masters:  printable(masterTexts(r)),
		Methods:  methods,
	}
	if !sum.First.IsZero() {
		p.date(sum, r.Local)
	}
	if said.Depth != "" {
		p.Facts += ". " + said.Depth
	}
	p.addGroups(sum)
	if r.Verdicts != nil {
		for _, e := range r.Verdicts.Events {
			p.Events = append(p.Events, say.Typeset(frames.Printable(say.Event(e))))
		}
	}
	for _, f := range r.Fields {
		p.Fields = append(p.Fields, newFieldView(f))
	}
	for _, m := range r.Motions {
		p.Motions = append(p.Motions, motionRow{targetName(m), fmt.Sprint(m.Dither.N), measured(m.Dither), measured(m.Drift), measured(m.Rotation), measured(m.PolarError)})
		p.Moved = append(p.Moved, printable(motionWords(m))...)
	}
	for i := range r.Worth {
		p.Worth = append(p.Worth, newWorthView(&r.Worth[i]))
	}
	if r.Calib != nil {
		p.addCalibration(r.Calib)
	}
	for _, f := range sum.Unusable {
		p.Unusable = append(p.Unusable, frames.Printable(f.Name+": "+f.Err.Error()))
	}
	for _, s := range settingsOf(r.Settings) {
		p.Settings = append(p.Settings, settingRow{s.key(), frames.Printable(settingWords(s.value))})
	}
	return p, p.addSubs(r, beside)
}

// date names the night and tells when its subs were taken.
func (p *page) date(sum summary, local night.LocalTime) {
	p.Night = nightName(sum)
	p.Title = p.Night
	span := fmt.Sprintf("%s to %s UTC", sum.First.UTC().Format("2006-01-02 15:04"), sum.Last.UTC().Format("2006-01-02 15:04"))
	if here := localSpan(local, sum.First, sum.Last); here != "" {
		span += " (" + here + ")"
	}
	p.Facts = span + ". " + p.Facts
	p.Local = local.Known
}

// addGroups fills in what each group of subs was worth.
func (p *page) addGroups(sum summary) {
	for _, g := range sum.Groups {
		p.Groups = append(p.Groups, newGroupRow(g))
		for _, draw := range []func(groupSummary) (figureView, bool){economicsFigure, resolutionFigure} {
			if f, ok := draw(g); ok {
				p.Economics = append(p.Economics, f)
			}
		}
		if len(g.Causes) > 0 {
			p.Losses = append(p.Losses, groupName(g.Group)+": "+causeWords(g.Causes))
		}
	}
	if len(p.Groups) > 1 {
		p.All = &groupRow{Subs: sum.Total.Subs, Keep: sum.Total.Keep, Doubtful: sum.Total.Doubtful, Cull: sum.Total.Cull,
			Shot: hours(sum.ShotS), Usable: hours(sum.UsableS), Clear: hours(sum.EquivalentS)}
	}
}

func (p *page) addCalibration(c *calib.Result) {
	for _, s := range c.Sets {
		p.Sets = append(p.Sets, newSetView(s))
	}
	if f, ok := hotFigure(c.Sets); ok {
		p.Hot = &f
	}
	for _, m := range c.Coverage {
		p.Coverage = append(p.Coverage, coverageView{frames.Printable(m.Lights.Label()), newFitView(m.Bias), newFitView(m.Dark), newFitView(m.Flat)})
	}
}

// nightName names a night by its evening, and several by the first and the last.
func nightName(sum summary) string {
	long := func(date string) string {
		day, err := time.Parse(time.DateOnly, date)
		if err != nil {
			day = sum.First.UTC()
		}
		return day.Format("2 January 2006")
	}
	first, last := long(sum.Evenings[0]), long(sum.Evenings[1])
	if first != last {
		return "Nights of " + first + " to " + last
	}
	return "Night of " + first
}

func newGroupRow(g groupSummary) groupRow {
	row := groupRow{
		Label: frames.Printable(g.Label), Target: orNone(g.Target, "(no target)"), Filter: g.filterWords(), Exposure: exposureWords(g.Exposure),
		Subs: g.tally.Subs, Keep: g.Keep, Doubtful: g.Doubtful, Cull: g.Cull,
		Shot: hours(g.ShotSeconds), Usable: hours(g.UsableSeconds), Clear: hours(g.EquivalentClearSeconds),
	}
	names := make([]string, len(g.Causes))
	for i, c := range g.Causes {
		names[i] = fmt.Sprintf("%s %d", say.Cause(c.Cause), c.Subs)
	}
	row.Causes = strings.Join(names, ", ")
	return row
}

// before is what must be read before anything else: what voids figures, and why
// the night is poor as a whole.
func before(said say.Answer) []string {
	if said.Poor == "" {
		return said.Believe
	}
	return append(said.Believe, said.Poor+".")
}

// doubts are the first few warnings that do not stand before anything else already.
func doubts(r *night.Result) []string {
	const most = 3
	texts := printable(allWarnings(r))
	for _, f := range r.First {
		if i := slices.Index(texts, printable([]string{say.Fact(f)})[0]); i >= 0 {
			texts = slices.Delete(texts, i, i+1)
		}
	}
	return texts[:min(most, len(texts))]
}

// answerItems is how many sentences of each part of the answer show at once.
const answerItems = 4

func yieldWords(sum summary) string {
	if sum.Total.Subs == 0 {
		return "No subs were found."
	}
	if math.IsNaN(sum.ShotS) {
		return fact.Plural(sum.Total.Subs, "sub") + ". No header tells an exposure, so their hours are not known."
	}
	return fmt.Sprintf("%s, %s h. Of these %s h are usable; they make the stack that %s h of the night's best sky would.",
		fact.Plural(sum.Total.Subs, "sub"), hours(sum.ShotS), hours(sum.UsableS), hours(sum.EquivalentS))
}

func answerParagraphs(r *night.Result, sum summary, said say.Answer) []paragraph {
	var all []paragraph
	for _, part := range []paragraph{
		{Title: "What went wrong", Texts: troubleTexts(said, sum)},
		{Title: "This morning", Texts: said.Morning},
		{Title: "Next night", Texts: said.Next},
		{Title: "Camera and calibration", Texts: append(said.Calibration, printable(calibrationLines(r))...)},
	} {
		if n := len(part.Texts); n > answerItems+1 { // never hide one alone
			part.Texts, part.More = part.Texts[:answerItems], part.Texts[answerItems:]
		}
		if len(part.Texts) > 0 {
			all = append(all, part)
		}
	}
	return all
}

func newFieldView(f night.FieldReport) fieldView {
	v := fieldView{Group: frames.Printable(f.Group), Findings: printable(say.Each(f.Findings)), Notes: printable(say.Each(f.Notes))}
	if figure, ok := fieldFigure(f); ok {
		v.Figure = &figure
	}
	return v
}

func newWorthView(w *worth.Answer) worthView {
	v := worthView{Group: frames.Printable(w.Label), Words: say.Typeset(frames.Printable(worthWords(w))), Library: say.Typeset(frames.Printable(say.Library(w.Library)))}
	if figure, ok := budgetFigure(w); ok {
		v.Figure = &figure
	}
	for _, c := range w.Cases {
		v.Cases = append(v.Cases, worthCaseRow{
			correctionWords(c), ditherWords(c), significant(c.Sky, 3), significant(c.DarkShot, 3), significant(c.Read, 3),
			significant(c.FixedPattern, 3), significant(c.Master, 3), significant(c.Total, 4), decimals(c.HotMean, 0), decimals(c.HotScatter, 0),
		})
	}
	return v
}
