package report

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

// factJSON is what was found as a code with its values by name, and its words.
type factJSON struct {
	Code   fact.Code      `json:"code"`
	Values map[string]any `json:"values"`
	Words  string         `json:"words"`
}

func newFactsJSON(all []fact.Fact) []factJSON {
	out := []factJSON{}
	for _, f := range all {
		out = append(out, newFactJSON(f))
	}
	return out
}

func newFactJSON(f fact.Fact) factJSON {
	j := factJSON{f.Code, map[string]any{}, say.Fact(f)}
	for _, v := range f.Values {
		switch {
		case v.Fact != nil:
			j.Values[v.Name] = newFactJSON(*v.Fact)
		case v.Text != "":
			j.Values[v.Name] = v.Text
		default:
			j.Values[v.Name] = real(v.Number)
		}
	}
	return j
}

// findingJSON is one cause with what speaks for it.
type findingJSON struct {
	Cause    subs.Cause   `json:"cause"`
	Verdict  subs.Verdict `json:"verdict"`
	Severity real         `json:"severity"`
	Sentence string       `json:"sentence"`
	Facts    []factJSON   `json:"facts"`
}

func newFindingsJSON(all []subs.Finding) []findingJSON {
	out := []findingJSON{}
	for _, f := range all {
		out = append(out, findingJSON{f.Cause, f.Verdict, real(f.Severity), say.Facts(f.Facts), newFactsJSON(f.Facts)})
	}
	return out
}
