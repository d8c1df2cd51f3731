package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Series is one figure of a camera over time, under equal settings.
type Series struct {
	Camera  names.Name
	Metric  string
	Setting names.Name // what its points have in common
	Unit    string
	Points  []Point // in time order
	Change  *Change // of the latest against those before, beyond uncertainty; nil when there is none
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
var watched = map[string]struct{ amount, fraction float64 }{
	"offset_adu":             {1, 0},
	"read_noise_adu":         {0, 0.03},
	"read_noise_e":           {0, 0.03},
	"gain_e_per_adu":         {0, 0.03},
	"dark_current_e_per_s":   {0.0005, 0.10},
	"dark_current_adu_per_s": {0.0005, 0.10},
	"hot_pixels":             {10, 0.15},
}

// changeSigma is how many combined standard uncertainties make a change.
const changeSigma = 3

// Health gives every watched figure over time.
func (l *Ledger) Health(ctx context.Context) (list []Series, err error) {
	defer func() { err = l.explain(err) }()
	for scan := range l.rows(ctx, `SELECT camera, metric, setting, unit, night, value, uncertainty, frames
		FROM figure ORDER BY camera COLLATE spelling, metric, setting COLLATE setting, unit, night`) {
		var s Series
		var p Point
		var uncertainty sql.NullFloat64
		if err := scan(&s.Camera, &s.Metric, &s.Setting, &s.Unit, &p.Night, &p.Value, &uncertainty, &p.Frames); err != nil {
			return nil, err
		}
		p.Uncertainty = number(uncertainty)
		if n := len(list); n == 0 || !list[n-1].Camera.Is(s.Camera) || list[n-1].Metric != s.Metric || !sensor.SameSetting(string(list[n-1].Setting), string(s.Setting)) || list[n-1].Unit != s.Unit {
			list = append(list, s)
		}
		last := &list[len(list)-1]
		last.Points = append(last.Points, p)
	}
	for i := range list {
		list[i].Change = list[i].change()
	}
	return list, nil
}

// Change is how the latest figure of a series differs from those before it.
type Change struct {
	Before Point // mean of those before, of the last one's night
	Latest Point
	Limit  float64 // that noise and daily change explain
}

// change compares the latest figure with the mean of those before it, weighted by
// their uncertainties; nil where they agree, or there are none.
func (s *Series) change() *Change {
	w, ok := watched[s.Metric]
	n := len(s.Points) - 1
	if !ok || n < 1 {
		return nil
	}
	mean, uncertainty := average(s.Points[:n])
	c := &Change{Before: Point{Night: s.Points[n-1].Night, Value: mean, Uncertainty: uncertainty}, Latest: s.Points[n]}
	noise := math.Hypot(stats.OrZero(c.Latest.Uncertainty), uncertainty)
	if s.Metric == "hot_pixels" {
		noise = math.Sqrt(math.Max(c.Latest.Value, 0) + math.Max(mean, 0)/float64(n)) // counts
	}
	c.Limit = math.Max(changeSigma*noise, math.Max(w.amount, w.fraction*math.Abs(mean)))
	if !(math.Abs(c.Latest.Value-mean) > c.Limit) {
		return nil
	}
	return c
}

// Changes are the figures of a night's cameras that differ from those of the nights
// before it. A figure that stands in ADU and in electrons is given in electrons; sets of
// one camera lie apart, and a library of darks gives each more than once.
func Changes(r *night.Result, past []Series) []night.CameraChange {
	var all []night.CameraChange
	figures := figuresOfAll(r)
	for _, f := range figures {
		if other := strings.Replace(f.Metric, "_adu", "_e", 1); other != f.Metric && slices.ContainsFunc(figures, func(o Figure) bool {
			return o.Metric == other && o.Camera == f.Camera && o.Setting == f.Setting
		}) {
			continue
		}
		for _, s := range past {
			if !s.Camera.Is(f.Camera) || s.Metric != f.Metric || !sensor.SameSetting(string(s.Setting), f.Setting) || s.Unit != f.Unit {
				continue
			}
			s.Points = slices.DeleteFunc(slices.Clone(s.Points), func(p Point) bool { return p.Night >= f.Night })
			s.Points = append(s.Points, Point{Night: f.Night, Value: f.Value, Uncertainty: f.Uncertainty, Frames: f.Frames})
			if c := s.change(); c != nil {
				all = append(all, night.CameraChange{Camera: f.Camera, Metric: f.Metric, Setting: f.Setting, Unit: f.Unit,
					Latest: c.Latest.measured(), Before: c.Before.measured(), Until: c.Before.Night})
			}
		}
	}
	return all
}

func (p Point) measured() stats.Value { return stats.Known(p.Value, p.Uncertainty, p.Frames) }

// String is the value with its uncertainty, where that is known: two digits of it,
// and the value to the same place.
func (p Point) String() string {
	if !(p.Uncertainty > 0) {
		return strconv.FormatFloat(stats.Significant(p.Value, 5), 'f', -1, 64)
	}
	places := max(0, 1-int(math.Floor(math.Log10(p.Uncertainty))))
	return fmt.Sprintf("%.*f ± %.*f", places, p.Value, places, p.Uncertainty)
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
