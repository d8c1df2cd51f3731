package say

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/worth"
)

// calibration is what is new, wrong or worth doing; nothing when all is well.
func calibration(r *night.Result) []string {
	var texts []string
	said := map[string]bool{}
	add := func(text string) {
		if text = frames.Printable(text); text != "" && !said[text] {
			said[text] = true
			texts = append(texts, text)
		}
	}
	var changes []string
	for _, c := range r.Changes {
		changes = append(changes, sentence(cameraChange(c)))
	}
	slices.Sort(changes)
	for _, c := range changes {
		add(c)
	}
	var not []string
	for _, w := range r.Worth {
		switch {
		case w.Verdict() == worth.NotWorthIt && w.Reason != worth.MoreBias:
			not = append(not, w.Label)
		case w.Doubt != "":
			add("Darks, " + w.Label + ": cannot tell yet: " + sentence(DarksOpen(&w)))
		case w.Reason != "":
			add("Darks, " + w.Label + ": " + sentence(Darks(&w)))
		}
	}
	if len(not) > 0 && len(not) == len(r.Worth) {
		add("Darks are not worth it.")
	} else if len(not) > 0 {
		add("Darks are not worth it for " + list(not) + ".")
	}
	if r.Plan != nil {
		for _, text := range missing(r.Plan.Shopping) {
			add(text)
		}
	}
	for _, d := range r.Dust {
		if d.Bad() {
			add(begun(sentence(dustMoved(&d))))
		}
	}
	return texts
}

// sentence has one full stop at its end.
func sentence(s string) string { return strings.TrimRight(s, ". ") + "." }

// begun is a sentence that begins with a capital.
func begun(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// missing are the flats and bias frames to shoot: those of which there are none
// by kind in one line, more of others one by one.
func missing(all []plan.Shopping) []string {
	var filters []string
	var more []string
	flats, bias := 0, 0
	for _, s := range all {
		switch {
		case s.Kind == "dark": // the worth of darks says it
		case s.Have > 0:
			more = append(more, Shopping(&s))
		case s.Kind == "bias":
			bias = max(bias, s.Frames)
		case s.Kind == "flat":
			flats = max(flats, s.Frames)
			if name := string(s.Filter); !slices.Contains(filters, name) {
				filters = append(filters, name)
			}
		}
	}
	var texts []string
	if flats > 0 {
		texts = append(texts, flatless(filters, flats))
	}
	if bias > 0 {
		texts = append(texts, fmt.Sprintf("No bias frames fit: shoot %d.", bias))
	}
	return append(texts, more...)
}

// flatless says which filters have no flats; "" is no filter.
func flatless(filters []string, flats int) string {
	text := "No flats fit"
	if none := slices.Index(filters, ""); none >= 0 && len(filters) > 1 {
		filters = append(slices.Delete(filters, none, none+1), "no filter")
	}
	if filters[0] != "" {
		text += " for " + list(filters)
	}
	text += fmt.Sprintf(": shoot %d", flats)
	if len(filters) > 1 {
		text += " each"
	}
	return text + " before camera, focus or filter are touched."
}
