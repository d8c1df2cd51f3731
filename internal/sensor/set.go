package sensor

import (
	"fmt"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
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
	Warnings []string // in plain words, each with its remedy
	Measured bool     // false where no frame of the set could be: all figures have the reason then

	// Figures and what they are drawn from; the one of the set's kind is set.
	Bias    *Bias
	Dark    *Dark
	Flat    *Flat
	Summary *Camera
}

// NewSet is a set of which nothing is measured, for the reason that is given.
func NewSet(kind, why string) *Set {
	s, none := &Set{Kind: kind}, stats.Missing(why)
	switch kind {
	case KindBias:
		s.Bias = &Bias{RawNoise: none, TempSlope: none}
	case KindDark:
		s.Dark = &Dark{Noise: none, Uneven: math.NaN()}
	case KindFlat:
		s.Flat = &Flat{DriftPct: none}
	case KindCamera:
		s.Summary = &Camera{}
	}
	for _, d := range definitions[kind] {
		*d.of(s) = Figure{Value: none}
	}
	return s
}

// newSet is that of a group.
func newSet(g *frames.Group, why string) *Set {
	s := NewSet(string(g.Kind), why)
	s.Label, s.Group, s.Camera = g.Label(), g, g.Camera
	return s
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
