package compare

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// The parts of night.json that are compared.
type document struct {
	SchemaVersion int           `json:"schema_version"`
	Subs          []subJSON     `json:"subs"`
	Calibration   []setJSON     `json:"calibration"`
	Groups        []groupFigure `json:"groups"`
}

type subJSON struct {
	Target   *names.Name       `json:"target"`
	Filter   *names.Name       `json:"filter"`
	Verdict  subs.Verdict      `json:"verdict"`
	Exposure *float64          `json:"exposure_s"`
	Scale    *float64          `json:"pixel_scale_arcsec"`
	Gain     *float64          `json:"e_per_adu"`
	Measures map[string]figure `json:"measures"`
}

type groupFigure struct {
	Target names.Name `json:"target"`
	Filter names.Name `json:"filter"`
	Season struct {
		ZeroPoint *figure `json:"zero_point_mag"`
		Level     figure  `json:"level"`
		Reference string  `json:"reference"`
	} `json:"season"`
}

type setJSON struct {
	Kind    string     `json:"kind"`
	Camera  names.Name `json:"camera"`
	Gain    *float64   `json:"gain_setting"`
	Temp    *float64   `json:"set_temp_c"`
	Metrics []struct {
		Metric string `json:"metric"`
		Unit   string `json:"unit"`
		figure
	} `json:"metrics"`
}

type figure struct {
	Value       *float64 `json:"value"`
	Uncertainty *float64 `json:"uncertainty"`
	N           int      `json:"n"`
	Reason      string   `json:"reason"`
}

func (f figure) value() stats.Value {
	if f.Value == nil {
		return stats.Missing(AsWritten, fact.Text("reason", f.Reason))
	}
	return stats.Known(*f.Value, orNaN(f.Uncertainty), f.N)
}

func orNaN(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}

// FromOutput reads the night.json of an output folder.
func FromOutput(dir string) (Side, error) {
	text, err := os.ReadFile(filepath.Join(dir, "night.json"))
	if errors.Is(err, fs.ErrNotExist) {
		return Side{}, fmt.Errorf("%s is no date of a night and has no reports of a check: %w", dir, err)
	}
	if err != nil {
		return Side{}, err
	}
	var d document
	if err := json.Unmarshal(text, &d); err != nil {
		return Side{}, fmt.Errorf("%s: %w", filepath.Join(dir, "night.json"), err)
	}
	if err := d.check(); err != nil {
		return Side{}, fmt.Errorf("%s: %w", filepath.Join(dir, "night.json"), err)
	}
	side := Side{Name: filepath.Base(filepath.Clean(dir))}
	for _, g := range d.Groups {
		if len(side.Groups) == 0 || !has(side.Groups, g) {
			side.Groups = append(side.Groups, d.group(g))
		}
	}
	for _, s := range d.Calibration {
		for _, m := range s.Metrics {
			if _, ok := cameraFigures[m.Metric]; ok {
				side.Camera = append(side.Camera, Figure{s.Camera, s.setting(), m.Metric, m.Unit, m.value()})
			}
		}
	}
	return side, nil
}

// schemaVersion is that of night.json, as its schema has it.
const schemaVersion = 2

var measured = []string{"sky_mag_arcsec2", "sky_e_per_s", "fwhm_arcsec", "ellipticity", "random_noise_adu"}

// check tells whether a document is one that is read here: a figure that is not there at
// all would else be called unknown.
func (d *document) check() error {
	if d.SchemaVersion != schemaVersion {
		return fmt.Errorf("schema version %d, this program compares %d: check the night again", d.SchemaVersion, schemaVersion)
	}
	for _, s := range d.Subs {
		if s.Target == nil || s.Filter == nil || s.Verdict == "" {
			return errors.New("a sub without target, filter or verdict")
		}
		for _, name := range measured {
			if _, ok := s.Measures[name]; s.Verdict.Usable() && !ok {
				return fmt.Errorf("a sub without %s", name)
			}
		}
	}
	for _, g := range d.Groups {
		if g.Season.ZeroPoint == nil {
			return errors.New("a group without a season's zero point")
		}
	}
	return nil
}

func has(list []Group, g groupFigure) bool {
	for _, o := range list {
		if o.Target.Is(g.Target) && o.Filter.Is(g.Filter) {
			return true
		}
	}
	return false
}

var cameraFigures = map[string]bool{"read_noise_e": true, "gain_e_per_adu": true, "dark_current_e_per_s": true}

func (s setJSON) setting() string {
	text := s.Kind
	if s.Gain != nil {
		text += fmt.Sprintf(" gain %g", *s.Gain)
	}
	if s.Temp != nil && s.Kind == "dark" {
		text += fmt.Sprintf(" %.0f °C", *s.Temp)
	}
	return text
}

// group gathers the figures of a target's usable subs through a filter: medians.
func (d *document) group(g groupFigure) Group {
	out := Group{Target: g.Target, Filter: g.Filter, ZeroPoint: g.Season.ZeroPoint.value(), Level: g.Season.Level.value(), Reference: g.Season.Reference}
	var mag, sky, fwhm, ellipticity, noise sample
	for _, s := range d.Subs {
		if !s.Target.Is(g.Target) || !s.Filter.Is(g.Filter) || !s.Verdict.Usable() {
			continue
		}
		out.Subs++
		area := orNaN(s.Scale) * orNaN(s.Scale)
		n := s.Measures["random_noise_adu"].value().V * orNaN(s.Gain)
		mag.add(s.Measures["sky_mag_arcsec2"].value(), 1)
		sky.add(s.Measures["sky_e_per_s"].value(), 1/area)
		fwhm.add(s.Measures["fwhm_arcsec"].value(), 1)
		ellipticity.add(s.Measures["ellipticity"].value(), 1)
		noise.add(stats.Known(n*n/orNaN(s.Exposure)/area, math.NaN(), 1), 1)
	}
	out.SkyMag, out.Sky, out.FWHM, out.Ellipticity, out.Noise = mag.median(), sky.median(), fwhm.median(), ellipticity.median(), noise.median()
	if !out.Noise.OK() {
		out.Noise = stats.Missing(NoiseOrScale)
	}
	return out
}

type sample struct {
	x   []float64
	why fact.Fact
}

func (s *sample) add(v stats.Value, factor float64) {
	if x := v.V * factor; !math.IsNaN(x) && !math.IsInf(x, 0) {
		s.x = append(s.x, x)
	} else if s.why.Code == "" {
		s.why = v.Why
	}
}

func (s *sample) median() stats.Value {
	if len(s.x) == 0 {
		return stats.Because(s.why)
	}
	return stats.Known(stats.Median(s.x), stats.MedianErr*stats.MADSigma(s.x)/math.Sqrt(float64(len(s.x))), len(s.x))
}
