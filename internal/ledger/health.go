package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"fitsqa/internal/frames"
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
// dark current with half a degree by some percent. then is what to do when one has
// changed (likewise).
var watched = map[string]struct {
	name             string
	amount, fraction float64
	then             string
}{
	"offset_adu":             {"offset", 1, 0, "shoot bias frames and darks anew"},
	"read_noise_adu":         {"read noise", 0, 0.03, "look at power supply, cable and read-out mode"},
	"read_noise_e":           {"read noise", 0, 0.03, "look at power supply, cable and read-out mode"},
	"gain_e_per_adu":         {"gain", 0, 0.03, "look at gain setting, read-out mode, and whether the flats' light is steady"},
	"dark_current_e_per_s":   {"dark current", 0.0005, 0.10, "look at the cooler and for stray light, shoot darks anew"},
	"dark_current_adu_per_s": {"dark current", 0.0005, 0.10, "look at the cooler and for stray light, shoot darks anew"},
	"hot_pixels":             {"number of hot pixels", 10, 0.15, "shoot darks anew"},
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
		FROM figure ORDER BY camera COLLATE spelling, metric, setting COLLATE setting, unit, night`)
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
		if n := len(list); n == 0 || !list[n-1].Camera.Is(s.Camera) || list[n-1].Metric != s.Metric || !sensor.SameSetting(string(list[n-1].Setting), string(s.Setting)) || list[n-1].Unit != s.Unit {
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

// change is how the latest figure of a series differs from those before it.
type change struct {
	before Point // mean of those before, of the last one's night
	latest Point
	limit  float64 // that noise and daily change explain
}

// change compares the latest figure with the mean of those before it, weighted by
// their uncertainties.
func (s *Series) change() (c change, changed bool) {
	w, ok := watched[s.Metric]
	n := len(s.Points) - 1
	if !ok || n < 1 {
		return c, false
	}
	mean, uncertainty := average(s.Points[:n])
	c = change{before: Point{Night: s.Points[n-1].Night, Value: mean, Uncertainty: uncertainty}, latest: s.Points[n]}
	noise := math.Hypot(known(c.latest.Uncertainty), uncertainty)
	if s.Metric == "hot_pixels" {
		noise = math.Sqrt(math.Max(c.latest.Value, 0) + math.Max(mean, 0)/float64(n)) // counts
	}
	c.limit = math.Max(changeSigma*noise, math.Max(w.amount, w.fraction*math.Abs(mean)))
	return c, math.Abs(c.latest.Value-mean) > c.limit
}

// watch words a change.
func (s *Series) watch() {
	if c, changed := s.change(); changed {
		s.Warning = fmt.Sprintf("%s: %s (%s) went from %.4g to %.4g %s on %s; beyond the %.2g that noise and daily change explain",
			s.Camera, watched[s.Metric].name, s.Setting, c.before.Value, c.latest.Value, s.Unit, c.latest.Night, c.limit)
	}
}

// Changes are the figures of a night's cameras that differ from those of the nights
// before it, each in a sentence with what to do about it. A figure that stands in
// ADU and in electrons is given in electrons.
func Changes(r *night.Result, past []Series) []string {
	var lines []string
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
			if c, changed := s.change(); changed {
				lines = append(lines, frames.Printable(fmt.Sprintf("%s: %s %s (%s), was %s until %s: %s", f.Camera, watched[f.Metric].name,
					strings.TrimSpace(c.latest.String()+" "+f.Unit), f.Setting, c.before, c.before.Night, watched[f.Metric].then)))
			}
		}
	}
	slices.Sort(lines) // sets of one camera lie apart, and a library of darks tells each once
	return slices.Compact(lines)
}

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

func known(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}
