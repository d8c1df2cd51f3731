package compare

import (
	"encoding/json"
	"io"
	"math"

	"fitsqa/internal/stats"
)

type valueJSON struct {
	Value       *float64 `json:"value"`
	Uncertainty *float64 `json:"uncertainty"`
	N           int      `json:"n"`
	Reason      string   `json:"reason,omitempty"`
}

func newValue(v stats.Value) valueJSON {
	if !v.OK() {
		return valueJSON{Reason: lacking(v)}
	}
	return valueJSON{finite(v.V), finite(v.Err), v.N, ""}
}

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

type lineJSON struct {
	Figure string    `json:"figure"`
	Unit   string    `json:"unit"`
	First  valueJSON `json:"first"`
	Second valueJSON `json:"second"`
	Ratio  valueJSON `json:"ratio"`
}

type pairJSON struct {
	Targets    [2]string  `json:"targets"`
	Filters    [2]string  `json:"filters"`
	Subs       [2]int     `json:"subs"`
	Lines      []lineJSON `json:"figures"`
	Throughput valueJSON  `json:"throughput"`
	Sky        valueJSON  `json:"sky"`
	Continuum  valueJSON  `json:"snr_continuum"`
	LineLight  valueJSON  `json:"snr_line"`
}

// JSON writes a comparison for programs.
func JSON(w io.Writer, r Result) error {
	d := struct {
		Nights [2]string  `json:"nights"`
		Pairs  []pairJSON `json:"pairs"`
		Camera []lineJSON `json:"camera"`
		Alone  []string   `json:"alone"`
	}{[2]string{r.First, r.Second}, []pairJSON{}, linesJSON(r.Camera), append([]string{}, r.Alone...)}
	for _, p := range r.Pairs {
		d.Pairs = append(d.Pairs, pairJSON{
			[2]string{string(p.First.Target), string(p.Second.Target)}, [2]string{string(p.First.Filter), string(p.Second.Filter)},
			[2]int{p.First.Subs, p.Second.Subs}, linesJSON(p.Lines),
			newValue(p.Throughput), newValue(p.SkyRatio), newValue(p.Continuum), newValue(p.LineLight),
		})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

func linesJSON(lines []Line) []lineJSON {
	list := []lineJSON{}
	for _, l := range lines {
		list = append(list, lineJSON{l.Figure, l.Unit, newValue(l.First), newValue(l.Second), newValue(l.Ratio)})
	}
	return list
}
