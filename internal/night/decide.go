package night

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/subs"
)

// applyDecisions finds the subs that the user decided on. Decisions by content
// on files that are not here stay for when they are: a folder moved aside, or
// another night.
func (r *Result) applyDecisions() {
	content := func(i int) string {
		f, err := frames.Fingerprint(r.Subs[i].Frame.Path)
		if err != nil {
			return "" // its row tells why it cannot be read
		}
		return f
	}
	byName := map[string]bool{}
	elsewhere := 0
	for _, d := range r.Settings.Decisions {
		if d.Content == "" {
			byName[d.Name] = true
		}
	}
	for _, name := range subs.ApplyDecisions(r.judged(), r.Settings.Decisions, content) {
		if byName[name] {
			r.warn(DecisionUnknown, fact.Text("file", frames.Printable(name)))
		} else {
			elsewhere++
		}
	}
	if elsewhere > 0 {
		r.warn(DecisionsElsewhere, fact.Count("files", elsewhere))
	}
}
