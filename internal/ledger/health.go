package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"fitsqa/internal/names"
)

// Series is one figure of a camera over time, under equal settings.
type Series struct {
	Camera  names.Name
	Metric  string
	Setting names.Name // what its points have in common
	Unit    string
	Points  []Point // in time order
	Warning string  // when the latest differs from those before beyond uncertainty; "" when not
}

// Point is one measurement.
type Point struct {
	Night       string
	Value       float64
	Uncertainty float64 // 1 sigma; NaN when not known
	Frames      int
}

// watched are the figures that tell a camera's health, and how far each
// moves by itself: the larger of an amount and a fraction (common practice, no
// source). An offset moves with the camera's electronics by some tenths of an ADU,
// dark current with half a degree by some percent.
var watched = map[string]struct {
	name             string
	amount, fraction float64
}{
	"offset_adu":             {"offset", 1, 0},
	"read_noise_adu":         {"read noise", 0, 0.03},
	"read_noise_e":           {"read noise", 0, 0.03},
	"gain_e_per_adu":         {"gain", 0, 0.03},
	"dark_current_e_per_s":   {"dark current", 0.0005, 0.10},
	"dark_current_adu_per_s": {"dark current", 0.0005, 0.10},
	"hot_pixels":             {"number of hot pixels", 10, 0.15},
}

// changeSigma is how many combined standard uncertainties make a change.
const changeSigma = 3

// Health gives every watched figure over time.
func (l *Ledger) Health(ctx context.Context) ([]Series, error) {
	list, err := l.health(ctx)
	return list, l.explain(err)
}

func (l *Ledger) health(ctx context.Context) ([]Series, error) {
	rows, err := l.db.QueryContext(ctx, `SELECT camera, metric, setting, unit, night, value, uncertainty, frames
		FROM figure ORDER BY camera COLLATE spelling, metric, setting COLLATE spelling, unit, night`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Series
	for rows.Next() {
		var s Series
		var p Point
		var uncertainty sql.NullFloat64
		if err := rows.Scan(&s.Camera, &s.Metric, &s.Setting, &s.Unit, &p.Night, &p.Value, &uncertainty, &p.Frames); err != nil {
			return nil, err
		}
		p.Uncertainty = number(uncertainty)
		if n := len(list); n == 0 || !list[n-1].Camera.Is(s.Camera) || list[n-1].Metric != s.Metric || !list[n-1].Setting.Is(s.Setting) || list[n-1].Unit != s.Unit {
			list = append(list, s)
		}
		last := &list[len(list)-1]
		last.Points = append(last.Points, p)
	}
	for i := range list {
		list[i].watch()
	}
	return list, rows.Err()
}

// watch compares the latest figure with the mean of those before it, weighted by
// their uncertainties.
func (s *Series) watch() {
	w, ok := watched[s.Metric]
	n := len(s.Points) - 1
	if !ok || n < 1 {
		return
	}
	mean, uncertainty := average(s.Points[:n])
	latest := s.Points[n]
	change := latest.Value - mean
	noise := math.Hypot(known(latest.Uncertainty), uncertainty)
	if s.Metric == "hot_pixels" {
		noise = math.Sqrt(math.Max(latest.Value, 0) + math.Max(mean, 0)/float64(n)) // counts
	}
	limit := math.Max(changeSigma*noise, math.Max(w.amount, w.fraction*math.Abs(mean)))
	if math.Abs(change) <= limit {
		return
	}
	s.Warning = fmt.Sprintf("%s: %s (%s) went from %.4g to %.4g %s on %s; beyond the %.2g that noise and daily change explain",
		s.Camera, w.name, s.Setting, mean, latest.Value, s.Unit, latest.Night, limit)
}

// average weights by 1/uncertainty²; all alike when one has none.
func average(points []Point) (mean, uncertainty float64) {
	var sum, weights float64
	for _, p := range points {
		w := 1 / (p.Uncertainty * p.Uncertainty)
		if !(w > 0) || math.IsInf(w, 0) {
			return plain(points)
		}
		sum += w * p.Value
		weights += w
	}
	return sum / weights, 1 / math.Sqrt(weights)
}

func plain(points []Point) (mean, uncertainty float64) {
	for _, p := range points {
		mean += p.Value / float64(len(points))
	}
	return mean, 0
}

func known(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}
