package sensor

import (
	"fmt"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
)

// The kinds of sets.
const (
	KindBias   = string(frames.Bias)
	KindDark   = string(frames.Dark)
	KindFlat   = string(frames.Flat)
	KindCamera = "camera"
)

// Set is one group of calibration frames, or the camera's summary, and what
// was measured of it.
type Set struct {
	Label    string        // short, readable, unique in a run
	Kind     string        // "bias", "dark", "flat", "camera"
	Group    *frames.Group // nil for the camera summary
	Camera   names.Name
	Warnings []fact.Fact
	Combined int  // frames that the master is made of: those that were left out are not among them; 0 of a camera's summary
	Measured bool // false where no frame of the set could be: all figures have the reason then

	// Figures and what they are drawn from; the one of the set's kind is set.
	Bias    *Bias
	Dark    *Dark
	Flat    *Flat
	Summary *Camera
}

func (s *Set) warn(code fact.Code, values ...fact.Value) {
	s.Warnings = append(s.Warnings, fact.Of(code, values...))
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
