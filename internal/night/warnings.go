package night

import (
	"fmt"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

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
		r.Warnings = append([]string{fmt.Sprintf("%s could not be read, for reasons that say nothing about them: not judged, and not moved by cull unless asked for by that cause", fact.Plural(n, "sub"))}, r.Warnings...)
	}
	if why := r.Settings.NoLedger; why != "" {
		r.Warnings = append(r.Warnings, fmt.Sprintf("earlier nights are unknown, so goals and balance know this one alone: %s", why))
	}
	if n := r.Unreadable(); n > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s could not be read; see the list of files", fact.Plural(n, "file")))
	}
	if products := frames.Products(r.Frames); products != "" {
		r.Warnings = append(r.Warnings, "among the frames lies what is none: "+products+"; left alone")
	}
	if n := r.neither(); n > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s called light by the header and calibration by name or folder, and shows stars: neither judged nor used; put right what is wrong", fact.Plural(n, "frame")))
	}
	fromPixels := 0
	for _, f := range r.Frames {
		if f.KindSource == frames.KindFromPixels {
			fromPixels++
		}
	}
	if fromPixels > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the kind of %s was guessed from pixels and exposure; put IMAGETYP into the headers or use folders named bias, darks, flats, lights", fact.Plural(fromPixels, "frame")))
	}
	r.Warnings = append(r.Warnings, r.Settings.memoryWarning(r.Frames)...)
	r.Warnings = append(r.Warnings, r.siteWarning()...)
	r.Warnings = append(r.Warnings, r.seasonWarnings()...)
	for i := range r.Places {
		for _, f := range r.Places[i].Findings {
			r.Warnings = append(r.Warnings, frames.Printable(r.Places[i].Target)+": "+f)
		}
	}
	r.Warnings = append(r.Warnings, r.Calib.Warnings...)
	for _, d := range r.Dust {
		if d.Bad() {
			r.Warnings = append(r.Warnings, d.Headline())
		}
	}
	r.Warnings = append(r.Warnings, r.Verdicts.Warnings...)
}
