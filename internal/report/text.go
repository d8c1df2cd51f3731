package report

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

// Text writes report.txt, of 100 columns: all of the answer, details after it.
func Text(w io.Writer, r *night.Result) error {
	sum := summarize(r)
	lines := answer(fullPaper, r, sum, unlimited)
	lines = append(lines, subDetails(r)...)
	lines = append(lines, spoiledDetails(r)...)
	lines = append(lines, groupDetails(sum)...)
	lines = append(lines, section("The sky: brightness, and extinction (transparencies are not corrected for it)", skyTexts(r))...)
	lines = append(lines, calibrationDetails(r)...)
	lines = append(lines, worthDetails(r)...)
	lines = append(lines, section("Are bias frames and flats enough", masterTexts(r))...)
	lines = append(lines, fieldDetails(r)...)
	lines = append(lines, section("Advice", say.Advice(r.Plan))...)
	lines = append(lines, section("Warnings", allWarnings(r))...)
	lines = append(lines, unusableDetails(sum)...)
	lines = append(lines, section("Figures that are missing, and why", missingTexts(r))...)
	lines = append(lines, section("Notes on the measurement of subs", noteTexts(r))...)
	lines = append(lines, settingsDetails(r)...)
	lines = append(lines, madeBy(r)...)
	_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
	return err
}

// Screen writes the answer for a terminal of so many columns, at most 40 lines
// of it, and then where the rest is.
func Screen(w io.Writer, r *night.Result, dir string, columns int) error {
	p := min(max(paper(columns), narrowest), fullPaper)
	lines := answer(p, r, summarize(r), screenLines)
	lines = append(lines, "")
	lines = append(lines, p.hanging("", "", "All figures: "+frames.Printable(filepath.Join(dir, "report.html"))+" (pictures), report.txt (text).")...)
	_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
	return err
}

// narrow are the titles of figures in the table of subs, which is as wide as the
// paper, by the figures' names.
var narrow = []struct{ name, title string }{
	{"sky_e_per_s", "sky"}, {"stars", "stars"}, {"fwhm_px", "FWHM"}, {"hfd_px", "HFD"},
	{"ellipticity", "ell"}, {"coherence", "coh"}, {"transparency", "trans"}, {"weight", "weight"},
}

// subDetails is the table of all subs in time order.
func subDetails(r *night.Result) []string {
	if len(r.Subs) == 0 {
		return nil
	}
	columns := []column{{title: "start"}, {title: "file", flex: true}, {title: "filter", most: 6}}
	for _, n := range narrow {
		columns = append(columns, column{title: n.title, right: true})
	}
	columns = append(columns, column{title: "verdict"})
	layout := startLayout(r)
	var rows [][]string
	for _, s := range r.Subs {
		row := []string{"-", frames.Printable(s.File), orNone(s.Filter, "-")}
		if !s.Start.IsZero() {
			row[0] = s.Start.UTC().Format(layout)
		}
		for _, n := range narrow {
			row = append(row, measureOf(n.name).text(s))
		}
		rows = append(rows, append(row, string(s.Verdict)))
	}
	lines := append(heading("Subs"), fullPaper.hanging("", "", "Times UTC; sky in e-/s per px; FWHM and HFD in px. HFD is twice the radius "+
		"that holds half the flux. ell: 1 - b/a. coh: near 1, all stars are drawn out one way (tracking, wind); near 0, optics. "+
		"trans (transparency) and weight: 1 is the best of the group. A dash: not measured, for the reason below.")...)
	return append(append(lines, ""), fullPaper.table(columns, rows)...)
}

// spoiledDetails gives the sentence of every sub that is not simply kept.
func spoiledDetails(r *night.Result) []string {
	texts := unjudged(r)
	for _, s := range r.Subs {
		if s.Verdict == subs.NotJudged || s.Verdict == subs.Keep && len(s.Causes) == 0 && !s.UserDecision {
			continue
		}
		texts = append(texts, fmt.Sprintf("%s: %s", frames.Printable(s.File), verdictWords(s)))
	}
	lines := section("Why", texts)
	if r.Verdicts == nil {
		return lines
	}
	var events []string
	for _, e := range r.Verdicts.Events {
		events = append(events, say.Event(e))
	}
	return append(append(lines, section("Events", events)...), section("Focus", focusLines(r))...)
}

func unjudged(r *night.Result) []string {
	var texts []string
	for _, s := range r.Subs {
		if s.Verdict == subs.NotJudged {
			texts = append(texts, fmt.Sprintf("%s: %s", frames.Printable(s.File), verdictWords(s)))
		}
	}
	return texts
}

// notJudged is a count for a list of counts, "" for none.
func notJudged(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(", %d not judged", n)
}

func verdictWords(s *night.Sub) string {
	text := string(s.Verdict)
	if len(s.Causes) > 0 {
		text += " (" + strings.ReplaceAll(causeList(s, ", "), "_", " ") + ")"
	}
	if why := say.Sub(s.Sub); why != "" {
		text += ": " + why
	}
	return text
}

// groupDetails is, for each group, what it holds, what each cause cost and what
// dropping subs does to the stack.
func groupDetails(sum summary) []string {
	var texts []string
	for _, g := range sum.Groups {
		text := fmt.Sprintf("%s: %s (%d keep, %d doubtful, %d cull%s)", groupName(g.Group),
			fact.Plural(g.tally.Subs, "sub"), g.Keep, g.Doubtful, g.Cull, notJudged(g.NotJudged))
		worth := ""
		if !math.IsNaN(g.ShotSeconds) {
			worth = fmt.Sprintf("%s h shot, %s h usable, %s h clear", hours(g.ShotSeconds), hours(g.UsableSeconds), hours(g.EquivalentClearSeconds))
		}
		for _, more := range []string{worth, causeWords(g.Causes), say.Economics(&g.Economics), strings.Join(say.GroupNotes(g.Group), "; ")} {
			if more != "" {
				text += "; " + more
			}
		}
		texts = append(texts, text)
	}
	if len(texts) > 0 {
		texts = append(texts, "lost: the exposure of culled subs, and of doubtful ones the part that their weight lacks")
	}
	return section("Group by group, and what dropping subs does to the stack", texts)
}

func fieldDetails(r *night.Result) []string {
	var texts []string
	for _, f := range r.Fields {
		for _, finding := range say.Each(f.Findings) {
			texts = append(texts, f.Group+": "+finding)
		}
		for _, note := range say.Each(f.Notes) {
			texts = append(texts, f.Group+": "+note)
		}
	}
	texts = append(texts, motionTexts(r)...)
	return section("The field: tilt, curvature, collimation, tracking", texts)
}

func allWarnings(r *night.Result) []string { return append(say.Warnings(r), say.OfFiles(r.OfFiles)...) }

func unusableDetails(sum summary) []string {
	var texts []string
	for _, f := range sum.Unusable {
		texts = append(texts, f.Name+": "+f.Err.Error())
	}
	return section("Files that cannot be used", texts)
}

func settingsDetails(r *night.Result) []string {
	var texts []string
	for _, s := range settingsOf(r.Settings) {
		texts = append(texts, s.key()+" = "+settingWords(s.value))
	}
	return section("Settings", texts)
}

func madeBy(r *night.Result) []string {
	if r.Program == "" {
		return nil
	}
	return []string{"", "Made by fitsqa " + frames.Printable(r.Program)}
}
