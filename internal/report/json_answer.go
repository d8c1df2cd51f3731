package report

import (
	"fitsqa/internal/names"
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
	Changes     []changeJSON  `json:"camera_changes"`
}

// changeJSON is a figure of a camera that is not what it was; calibration has its sentence.
type changeJSON struct {
	Camera     names.Name `json:"camera"`
	Metric     string     `json:"metric"`
	Setting    string     `json:"setting"`
	Unit       string     `json:"unit"`
	Latest     figure     `json:"latest"`
	Before     figure     `json:"before"`
	UntilNight string     `json:"until_night"`
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
		Next: list(said.Next), Calibration: list(said.Calibration), Changes: []changeJSON{}}
	for _, t := range said.Trouble {
		a.Trouble = append(a.Trouble, troubleJSON{string(t.Cause), len(t.Subs), t.Culled, t.Doubtful, real(t.CulledSeconds), t.Sentence})
	}
	for _, c := range r.Changes {
		a.Changes = append(a.Changes, changeJSON{c.Camera, c.Metric, c.Setting, c.Unit, newFigure(c.Latest), newFigure(c.Before), c.Until})
	}
	return a
}
