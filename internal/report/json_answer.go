package report

import (
	"fitsqa/internal/night"
	"fitsqa/internal/say"
)

// answerJSON is the first screen: its sentences, and the codes and numbers that
// they speak of.
type answerJSON struct {
	Depth       string        `json:"depth"`
	Poor        string        `json:"poor"`
	Believe     []string      `json:"believe"`
	Trouble     []troubleJSON `json:"trouble"`
	Less        string        `json:"less"`
	Morning     []string      `json:"morning"`
	Next        []string      `json:"next"`
	Calibration []string      `json:"calibration"`
}

type troubleJSON struct {
	Cause    string `json:"cause"`
	Subs     int    `json:"subs"`
	Cull     int    `json:"cull"`
	Doubtful int    `json:"doubtful"`
	CullS    real   `json:"cull_s"`
	Sentence string `json:"sentence"`
}

func newAnswerJSON(r *night.Result) answerJSON {
	said := say.Of(r, r.Folder)
	a := answerJSON{Poor: said.Poor, Depth: said.Depth, Believe: list(said.Believe), Trouble: []troubleJSON{}, Less: said.Less, Morning: list(said.Morning),
		Next: list(said.Next), Calibration: list(said.Calibration)}
	for _, t := range said.Trouble {
		a.Trouble = append(a.Trouble, troubleJSON{string(t.Cause), len(t.Subs), t.Culled, t.Doubtful, real(t.CulledHours * 3600), t.Sentence})
	}
	return a
}
