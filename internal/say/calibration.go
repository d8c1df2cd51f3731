package say

import (
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
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
	var not []string
	for _, w := range r.Worth {
		switch {
		case w.Verdict == "not worth it":
			not = append(not, w.Label)
		case w.Sentence != "":
			add("Darks, " + w.Label + ": " + sentence(w.Sentence))
		}
	}
	if len(not) > 0 && len(not) == len(r.Worth) {
		add("Darks are not worth it.")
	} else if len(not) > 0 {
		add("Darks are not worth it for " + list(not) + ".")
	}
	if r.Plan != nil {
		for _, s := range r.Plan.Shopping {
			if s.Kind != "dark" {
				add(s.Words())
			}
		}
	}
	for _, d := range r.Dust {
		if d.Bad() {
			add(sentence(d.Headline()))
		}
	}
	return texts
}

// sentence has one full stop at its end.
func sentence(s string) string { return strings.TrimRight(s, ". ") + "." }
