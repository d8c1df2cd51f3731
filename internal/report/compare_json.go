package report

import (
	"encoding/json"
	"io"

	"fitsqa/internal/compare"
)

type comparedJSON struct {
	Nights [2]string         `json:"nights"`
	Pairs  []comparedPair    `json:"pairs"`
	Camera []comparedFigures `json:"camera"`
	Alone  []string          `json:"alone"`
}

type comparedPair struct {
	Targets    [2]string         `json:"targets"`
	Filters    [2]string         `json:"filters"`
	Subs       [2]int            `json:"subs"`
	Figures    []comparedFigures `json:"figures"`
	Throughput figure            `json:"throughput"`
	Sky        figure            `json:"sky"`
	Continuum  figure            `json:"snr_continuum"`
	LineLight  figure            `json:"snr_line"`
}

type comparedFigures struct {
	Figure string `json:"figure"`
	Unit   string `json:"unit"`
	First  figure `json:"first"`
	Second figure `json:"second"`
	Ratio  figure `json:"ratio"`
}

// ComparedJSON writes a comparison for programs.
func ComparedJSON(w io.Writer, r compare.Result) error {
	d := comparedJSON{[2]string{r.First, r.Second}, []comparedPair{}, newComparedFigures(r.Camera), list(r.Alone)}
	for _, p := range r.Pairs {
		d.Pairs = append(d.Pairs, comparedPair{
			[2]string{string(p.First.Target), string(p.Second.Target)}, [2]string{string(p.First.Filter), string(p.Second.Filter)},
			[2]int{p.First.Subs, p.Second.Subs}, newComparedFigures(p.Lines),
			newFigure(p.Throughput), newFigure(p.SkyRatio), newFigure(p.Continuum), newFigure(p.LineLight),
		})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

func newComparedFigures(lines []compare.Line) []comparedFigures {
	all := []comparedFigures{}
	for _, l := range lines {
		all = append(all, comparedFigures{l.Figure, l.Unit, newFigure(l.First), newFigure(l.Second), newFigure(l.Ratio)})
	}
	return all
}
