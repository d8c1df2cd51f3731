package say

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
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
	for _, text := range spoilt(r.Calib) {
		add(text)
	}
	for _, text := range darksWorth(r) {
		add(text)
	}
	for _, w := range r.MasterWorth {
		if w.Lifts() {
			add("Flats, " + w.Label + ": " + sentence(lifted(&w)))
		}
	}
	if mastersAlone(r) {
		add("Masters tell neither gain nor read noise: with two single flats and two bias frames beside them this says what darks and exposures are worth.")
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

// darksWorth is what darks do for the groups, in one sentence for all to which they do nothing.
func darksWorth(r *night.Result) (texts []string) {
	var not []string
	for _, w := range r.Worth {
		switch {
		case w.Verdict() == worth.NotWorthIt && w.Reason != worth.MoreBias:
			not = append(not, w.Label)
		case w.Doubt != "":
			texts = append(texts, "Darks, "+w.Label+": cannot tell yet: "+sentence(DarksOpen(&w)))
		case w.Reason != "":
			texts = append(texts, "Darks, "+w.Label+": "+sentence(Darks(&w)))
		}
	}
	if len(not) > 0 && len(not) == len(r.Worth) {
		return append(texts, "Darks are not worth it.")
	} else if len(not) > 0 {
		return append(texts, "Darks are not worth it for "+list(not)+".")
	}
	return texts
}

// mastersAlone tells that darks could not be weighed for want of what masters do not tell.
func mastersAlone(r *night.Result) bool {
	lacks := func(w worth.Answer) bool { return w.Lacks.Code == worth.NoReadNoise || w.Lacks.Code == worth.NoSky }
	masters := func(c calib.Coverage) bool { return c.Bias.Master || c.Flat.Master }
	return r.Calib != nil && slices.ContainsFunc(r.Worth, lacks) && slices.ContainsFunc(r.Calib.Coverage, masters)
}

// spoilsFrames are what makes frames of a camera worse from now on until it is mended.
var spoilsFrames = []fact.Code{sensor.OffsetLow, sensor.DarkGradient, sensor.DarksSlow}

// spoilt are the sets of calibration frames that show it, and darks of two kinds.
func spoilt(c *calib.Result) (texts []string) {
	if c == nil {
		return nil
	}
	for _, s := range c.Sets {
		for _, w := range s.Warnings {
			if slices.Contains(spoilsFrames, w.Code) {
				texts = append(texts, begun(sentence(s.Label+": "+Fact(w))))
			}
		}
	}
	for _, of := range c.Coverage {
		if dark := &of.Dark.Fit; dark.Unusable.Code == stack.KindsMixed || dark.Unusable.Code == sensor.DarkLit {
			texts = append(texts, unusable(dark, 0))
		}
	}
	return texts
}

// sentence has one full stop at its end.
func sentence(s string) string { return strings.TrimRight(s, ". ") + "." }

func begun(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// missing are the frames to shoot: those of which there are none by kind in one line, more
// of others one by one.
func missing(all []plan.Shopping) []string {
	var filters []string
	var more []string
	flats, bias, darks := 0, 0, 0
	for _, s := range all {
		switch {
		case s.Kind == "dark":
			if s.Gain == plan.Untold && s.Have == 0 && (s.AtHand == nil || s.AtHand.Unusable.Code == "") { // else what they are worth is said
				darks = max(darks, s.Frames)
			}
		case s.Have > 0:
			more = append(more, Shopping(&s))
		case s.AtHand != nil && s.AtHand.Unusable.Code != "":
			more = append(more, unusable(s.AtHand, s.Frames))
		case s.AtHand != nil && !ofFilter(s.AtHand):
			more = append(more, Shopping(&s))
		case s.Kind == "bias":
			bias = max(bias, s.Frames)
		case s.Kind == "flat":
			flats = max(flats, s.Frames)
			name := string(s.Filter)
			if name == "" && s.AtHand != nil {
				name = "no filter"
			}
			if !slices.Contains(filters, name) {
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
	if darks > 0 {
		texts = append(texts, fmt.Sprintf("No darks fit: %d would tell whether they are worth it.", darks))
	}
	return append(texts, more...)
}

// ofFilter tells that nothing but another filter's frames are there.
func ofFilter(those *calib.Fit) bool {
	return slices.ContainsFunc(those.Mismatches, func(m calib.Mismatch) bool { return m.Property == calib.OfFilter })
}

// unusable says why frames that there are cannot be used, and what helps.
func unusable(those *calib.Fit, wanted int) string {
	remedy := ""
	switch {
	case those.Unusable.Code == stack.KindsMixed:
		remedy = ": take one kind out"
	case wanted > 0:
		remedy = fmt.Sprintf("; shoot %d", wanted)
	}
	return begun(Fit(those)) + remedy + "."
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
