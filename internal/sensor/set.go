package sensor

import (
	"fmt"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Metric is one measured figure of calibration.csv.
type Metric struct {
	Name  string      // as in the output contract, e.g. "read_noise_e"
	Value stats.Value // V, Err, N = frames behind it, Why
	Unit  string      // "ADU", "e-", "e-/s", "%", "px", "" ...
	Note  string      // how it was measured or which gain was used, short
}

// Set is one group of calibration frames, or the camera's summary, and what
// was measured of it.
type Set struct {
	Label    string        // short, readable, unique in a Result
	Kind     string        // "bias", "dark", "flat", "camera"
	Group    *frames.Group // nil for the camera summary
	Camera   names.Name
	Metrics  []Metric
	Warnings []string // in plain words, each with its remedy

	// What the report's figures are drawn from; the one of the set's kind is
	// set, and nil when no frame of the set could be measured.
	Bias    *BiasDetail
	Dark    *DarkDetail
	Flat    *FlatDetail
	Summary *CameraDetail
}

// Metric finds a figure by its name; a Missing one when the set has none of it.
func (s *Set) Metric(name string) stats.Value {
	for _, m := range s.Metrics {
		if m.Name == name {
			return m.Value
		}
	}
	return stats.Missing("not measured for this set")
}

// Note gives the figure of a name another value; a set without it stays as it is.
func (s *Set) Note(name string, v stats.Value, note string) {
	for i := range s.Metrics {
		if s.Metrics[i].Name == name {
			s.Metrics[i].Value, s.Metrics[i].Note = v, note
		}
	}
}

// add writes a figure down.
func (s *Set) add(name string, v stats.Value, unit, note string) {
	if !v.OK() {
		note = ""
	}
	s.Metrics = append(s.Metrics, Metric{Name: name, Value: v, Unit: unit, Note: note})
}

// missing writes down that none of the figures ("name" or "name:unit") could be had.
func (s *Set) missing(why string, names ...string) {
	for _, n := range names {
		name, unit, _ := strings.Cut(n, ":")
		s.add(name, stats.Missing(why), unit, "")
	}
}

// UniqueLabel is a label that is not yet taken: a count is put behind it.
func UniqueLabel(taken map[string]bool, label string) string {
	name := label
	for i := 2; taken[name]; i++ {
		name = fmt.Sprintf("%s (%d)", label, i)
	}
	taken[name] = true
	return name
}
