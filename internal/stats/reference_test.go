package stats

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// TestRobustReference holds the robust statistics to values that astropy.stats
// and numpy give for the same arrays; crosscheck/robust.py makes the file.
func TestRobustReference(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/robust.json")
	if err != nil {
		t.Fatal(err)
	}
	var reference struct {
		Cases []struct {
			Name      string    `json:"name"`
			X         []float64 `json:"x"`
			Mean      float64   `json:"mean"`
			SD        float64   `json:"sd"`
			Median    float64   `json:"median"`
			MAD       float64   `json:"mad"`
			MADSigma  float64   `json:"mad_sigma"`
			ClipMean  float64   `json:"clip_mean"`
			ClipMed   float64   `json:"clip_median"`
			ClipSD    float64   `json:"clip_sd"`
			ClipN     int       `json:"clip_n"`
			Quantiles map[string]float64
		}
	}
	if err := json.Unmarshal(data, &reference); err != nil {
		t.Fatal(err)
	}
	if len(reference.Cases) == 0 {
		t.Fatal("the reference file holds no case")
	}
	for _, c := range reference.Cases {
		t.Run(c.Name, func(t *testing.T) {
			clip := SigmaClip(c.X, 3, 10)
			got := map[string][2]float64{
				"mean": {Mean(c.X), c.Mean}, "sd": {math.Sqrt(Variance(c.X)), c.SD},
				"median": {Median(c.X), c.Median}, "MAD": {mad(c.X), c.MAD}, "MAD sigma": {MADSigma(c.X), c.MADSigma},
				"clipped mean": {clip.Mean, c.ClipMean}, "clipped median": {clip.Median, c.ClipMed}, "clipped sd": {clip.SD, c.ClipSD},
				"clipped n": {float64(clip.N), float64(c.ClipN)},
			}
			for percent, want := range c.Quantiles {
				p, err := strconv.ParseFloat(percent, 64)
				if err != nil {
					t.Fatal(err)
				}
				got["quantile "+percent] = [2]float64{Quantile(c.X, p/100), want}
			}
			for what, v := range got {
				// The arithmetic is the same, in another order of additions: a sum of
				// 90 squares of numbers near 1000 loses 1e-13 of itself at the most.
				if !scalar.EqualWithinAbsOrRel(v[0], v[1], 1e-12, 1e-11) {
					t.Errorf("%s = %.17g, want %.17g", what, v[0], v[1])
				}
			}
		})
	}
}
