package night

import (
	"slices"
	"strings"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// The warnings of a night. Package say has the words of each.
const (
	SubsUnread         fact.Code = "subs_unread"         // subs
	LedgerUnread       fact.Code = "ledger_unread"       // error
	FilesUnread        fact.Code = "files_unread"        // files
	NoFrames           fact.Code = "no_frames"           // files, file, more
	KindDisputed       fact.Code = "kind_disputed"       // frames
	KindGuessed        fact.Code = "kind_guessed"        // frames
	FramesTooLarge     fact.Code = "frames_too_large"    // need_mib, limit_mib
	SeveralSites       fact.Code = "several_sites"       // lat_deg, lon_deg
	AirPoor            fact.Code = "air_poor"            // group, share
	CulledBefore       fact.Code = "culled_before"       // folder
	DecisionUnknown    fact.Code = "decision_unknown"    // file
	DecisionsElsewhere fact.Code = "decisions_elsewhere" // files
	AirmassOfHeader    fact.Code = "airmass_of_header"   // subs
	OtherFieldSub      fact.Code = "other_field_sub"     // target, as, file
	OtherFieldSubs     fact.Code = "other_field_subs"    // subs, target, as
	OtherLight         fact.Code = "other_light"         // subs, filter, times, as, file
	DarksAboveSubs     fact.Code = "darks_above_subs"    // group, below_adu
	DustMoved          fact.Code = "dust_moved"          // flat, lights, left_pct
	FieldDoubt         fact.Code = "field_doubt"         // target, finding, and its values
)

// DustWarning is that of dust which is not where the flat has it.
func DustWarning(d *dust.Match) fact.Fact {
	return fact.Of(DustMoved, fact.Text("flat", d.Flat), fact.Text("lights", strings.TrimPrefix(d.Lights, "light ")), fact.Number("left_pct", d.WorstPct.V))
}

// Unreadable counts the files that could not be read.
func (r *Result) Unreadable() int {
	n := 0
	for _, f := range r.Frames {
		if f.Err != nil {
			n++
		}
	}
	return n
}

// FailedReads counts the files that the system did not give: devices that fail,
// permissions that lack.
func (r *Result) FailedReads() int {
	n := 0
	for _, f := range r.Frames {
		if frames.SystemError(f.Err) {
			n++
		}
	}
	return n
}

func (r *Result) notJudged() int {
	n := 0
	for _, s := range r.Subs {
		if s.Unread {
			n++
		}
	}
	return n
}

// neither counts the frames whose kind stays open between header and name.
func (r *Result) neither() int {
	n := 0
	for _, f := range r.Frames {
		if f.Disputed {
			n++
		}
	}
	return n
}

// collectWarnings sums up what is wrong with the night as a whole; warnings of
// single files stay with the files.
func (r *Result) collectWarnings() {
	r.OfFiles = alike(r.Frames)
	if n := r.notJudged(); n > 0 {
		r.Warnings = slices.Insert(r.Warnings, 0, fact.Of(SubsUnread, fact.Count("subs", n)))
	}
	if why := r.Settings.NoLedger; why != "" {
		r.warn(LedgerUnread, fact.Text("error", why))
	}
	if n := r.Unreadable(); n > 0 {
		r.warn(FilesUnread, fact.Count("files", n))
	}
	for _, p := range frames.ProductsOf(r.Frames) {
		r.warn(NoFrames, fact.Detail("files", p.Fact()), fact.Text("file", p.First), fact.Count("more", p.Files-1))
	}
	if n := r.neither(); n > 0 {
		r.warn(KindDisputed, fact.Count("frames", n))
		r.First = append(r.First, r.Warnings[len(r.Warnings)-1])
	}
	fromPixels := 0
	for _, f := range r.Frames {
		if f.KindSource == frames.KindFromPixels {
			fromPixels++
		}
	}
	if fromPixels > 0 {
		r.warn(KindGuessed, fact.Count("frames", fromPixels))
	}
	r.Warnings = append(r.Warnings, r.Settings.memoryWarning(r.Frames)...)
	r.Warnings = append(r.Warnings, r.siteWarning()...)
	r.Warnings = append(r.Warnings, r.seasonWarnings()...)
	for i := range r.Places {
		for _, f := range r.Places[i].Findings {
			told := []fact.Value{fact.Text("target", frames.Printable(r.Places[i].Target)), fact.Text("finding", string(f.Code))}
			r.warn(FieldDoubt, append(told, f.Values...)...)
		}
	}
	for _, d := range r.Dust {
		if d.Bad() {
			r.Warnings = append(r.Warnings, DustWarning(&d))
		}
	}
}
