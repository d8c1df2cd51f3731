package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// linearity compares the levels of flats of one filter at three exposures or
// more with a line (EMVA 1288 release 3.1: weights 1/y², points from 5 to 95 %
// of saturation where that is known, mean absolute deviation in percent; from memory). It holds
// only as far as the light was steady.
func (m *mode) linearity(cs *Cameras) (stats.Value, []LinearityPoint) {
	var points []LinearityPoint
	for _, f := range cs.flats {
		if !m.has(f.group) || !f.ok() {
			continue
		}
		sum, n := map[float64]float64{}, map[float64]float64{}
		for _, s := range f.shots {
			e := s.frame.Meta.Exposure
			if e > 0 && !(s.level < linearLow*m.saturation) && !(s.level > linearTop*m.saturation) && s.light < f.full {
				sum[e] += s.light
				n[e]++
			}
		}
		if len(sum) < 3 {
			continue
		}
		for e := range sum {
			points = append(points, LinearityPoint{Filter: f.group.Filter, Exposure: e, Signal: sum[e] / n[e]})
		}
	}
	slices.SortFunc(points, func(a, b LinearityPoint) int {
		return cmp.Or(cmp.Compare(a.Filter, b.Filter), cmp.Compare(a.Exposure, b.Exposure))
	})
	var deviations []float64
	for from := 0; from < len(points); {
		to := from
		var x, y []float64
		for ; to < len(points) && points[to].Filter == points[from].Filter; to++ {
			x, y = append(x, points[to].Exposure), append(y, points[to].Signal)
		}
		deviations = append(deviations, relativeDeviations(x, y)...)
		from = to
	}
	if len(deviations) < 3 {
		return stats.Missing(LinearityNeeds), nil
	}
	var sum, sq float64
	for i, d := range deviations {
		points[i].DeviationPct = d
		sum += math.Abs(d)
		sq += d * d
	}
	n := float64(len(deviations))
	return stats.Known(sum/n, math.Sqrt(sq/n)/math.Sqrt(n), len(deviations)), points
}

// relativeDeviations are the deviations in percent from the line that makes
// the sum of their squares least.
func relativeDeviations(x, y []float64) []float64 {
	line, err := stats.FitLine(x, y, y)
	if err != nil {
		return nil
	}
	d := make([]float64, len(x))
	for i := range x {
		d[i] = 100 * (y[i] - line.At(x[i])) / line.At(x[i])
	}
	return d
}
