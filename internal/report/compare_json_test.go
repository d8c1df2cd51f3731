package report

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"fitsqa/internal/compare"
	"fitsqa/internal/stats"
)

// A comparison for programs has its figures, and why one is missing in words and as a fact.
func TestComparedJSON(t *testing.T) {
	side := func(name string, zero float64) compare.Side {
		return compare.Side{Name: name, Groups: []compare.Group{{Target: "T", Filter: "Ha", Subs: 3, ZeroPoint: stats.Known(zero, 0.01, 9)}}}
	}
	var raw bytes.Buffer
	if err := ComparedJSON(&raw, compare.Of(side("a", 20), side("b", 19.7))); err != nil {
		t.Fatal(err)
	}
	var d struct {
		Nights [2]string `json:"nights"`
		Pairs  []struct {
			Throughput struct{ Value float64 } `json:"throughput"`
			Figures    []struct {
				Figure string `json:"figure"`
				Ratio  struct {
					Value  *float64 `json:"value"`
					Reason string   `json:"reason"`
					Facts  []struct {
						Code string `json:"code"`
					} `json:"reason_facts"`
				} `json:"ratio"`
			} `json:"figures"`
		} `json:"pairs"`
	}
	if err := json.Unmarshal(raw.Bytes(), &d); err != nil || len(d.Pairs) != 1 {
		t.Fatalf("%v: %s", err, raw.String())
	}
	p := d.Pairs[0]
	if want := math.Pow(10, -0.4*0.3); !(math.Abs(p.Throughput.Value-want) <= 1e-9) || d.Nights != [2]string{"a", "b"} {
		t.Errorf("throughput %g of %v, want %g", p.Throughput.Value, d.Nights, want)
	}
	ratio := p.Figures[0].Ratio
	if ratio.Value != nil || ratio.Reason != "a ratio of magnitudes says nothing" || len(ratio.Facts) != 1 || ratio.Facts[0].Code != string(compare.OfMagnitudes) {
		t.Errorf("zero points: %+v", ratio)
	}
}
