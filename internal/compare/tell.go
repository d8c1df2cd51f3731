package compare

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Text writes a comparison for people.
func Text(w io.Writer, r Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s beside %s\n", frames.Printable(r.Second), frames.Printable(r.First))
	for _, p := range r.Pairs {
		fmt.Fprintf(&b, "\n%s %s (%d subs) beside %s %s (%d subs)\n", frames.Printable(string(p.Second.Target)), frames.Printable(string(p.Second.Filter)),
			p.Second.Subs, frames.Printable(string(p.First.Target)), frames.Printable(string(p.First.Filter)), p.First.Subs)
		table(&b, p.Lines)
		for _, s := range sentences(p) {
			fmt.Fprintf(&b, "  %s\n", s)
		}
	}
	if len(r.Camera) > 0 {
		b.WriteString("\nCamera\n")
		table(&b, r.Camera)
	}
	for _, a := range r.Alone {
		fmt.Fprintf(&b, "\n%s has none beside it\n", frames.Printable(a))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func table(b *strings.Builder, lines []Line) {
	for _, l := range lines {
		fmt.Fprintf(b, "  %-30s %20s %20s", frames.Printable(strings.TrimSpace(l.Figure+" "+l.Unit)), cell(l.First), cell(l.Second))
		if l.Ratio.OK() {
			fmt.Fprintf(b, "  ratio %s", cell(l.Ratio))
		}
		b.WriteString("\n")
	}
}

// cell is a figure with its error, a dash for none.
func cell(v stats.Value) string {
	if !v.OK() {
		return "-"
	}
	if text := v.PlusMinus(); text != "" {
		return text
	}
	return fmt.Sprintf("%.4g", v.V)
}

func sentences(p Pair) (list []string) {
	if p.Throughput.OK() {
		list = append(list, "it passes "+cell(p.Throughput)+" of the stars' light")
	} else {
		list = append(list, "how much of the light it passes cannot be told: "+p.Throughput.Why)
	}
	if p.SkyRatio.OK() {
		list = append(list, "and "+cell(p.SkyRatio)+" of the sky's")
	}
	if p.Continuum.OK() {
		list = append(list, "in equal time: "+cell(p.Continuum)+" times the signal to noise, for light like the stars'")
	}
	switch {
	case p.LineLight.OK():
		list = append(list, "for a line that both pass alike: "+cell(p.LineLight)+" times the signal to noise")
	case p.LineLight.Why != oneFilter:
		list = append(list, "noise in equal time cannot be told: "+p.LineLight.Why)
	}
	return list
}

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
