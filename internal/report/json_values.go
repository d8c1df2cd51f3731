package report

import (
	"encoding/json"
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/say"
	"fitsqa/internal/stats"
)

// real is a number that JSON writes as null when there is none.
type real float64

func (x real) MarshalJSON() ([]byte, error) {
	v := float64(x)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

func reals(xs []float64) []real {
	out := make([]real, len(xs))
	for i, x := range xs {
		out[i] = real(x)
	}
	return out
}

// figure is a measured number: value and uncertainty are null when there is
// none, and reason says why the value is, in words and as a fact.
type figure struct {
	Value       real       `json:"value"`
	Uncertainty real       `json:"uncertainty"`
	N           int        `json:"n"`
	Reason      string     `json:"reason,omitempty"`
	ReasonFacts []factJSON `json:"reason_facts,omitempty"`
}

func newFigure(v stats.Value) figure {
	if !v.OK() {
		why := v.Reason()
		return figure{real(math.NaN()), real(math.NaN()), v.N, say.Fact(why), newFactsJSON([]fact.Fact{why})}
	}
	return figure{Value: real(v.V), Uncertainty: real(v.Err), N: v.N}
}

func stampOrNull(t time.Time) *string {
	s := stamp(t)
	if s == "" {
		return nil
	}
	return &s
}

func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// nanoStamp writes a file's time to the nanosecond, so that a change of the
// file since then shows.
func nanoStamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}
