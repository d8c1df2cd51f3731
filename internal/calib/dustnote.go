package calib

import (
	"math"
	"strings"

	"fitsqa/internal/dust"
	"fitsqa/internal/stats"
)

// measureShadows counts and places the dust shadows of a master flat.
func (f *flatRun) measureShadows(flat []float32, workers int) {
	width := f.group.Width
	shadows, ok := dust.Shadows(cellMeans(flat, width, dust.CellStep(width, len(flat)/width), workers))
	if !ok {
		f.shadowN = stats.Missing("the frames are too small")
		return
	}
	f.detail.Shadows = shadows
	f.shadowN = stats.Known(float64(len(shadows)), math.NaN(), len(f.frames))
}

// NoteDust puts what the subs tell into the set of the flat that corrected them:
// a note beside the count of shadows, and a warning where they do not match.
func (s *Set) NoteDust(d dust.Match) {
	for i := range s.Metrics {
		if m := &s.Metrics[i]; m.Name == "dust_shadows" && m.Value.OK() {
			m.Note = strings.TrimPrefix(m.Note+"; "+d.Note(), "; ")
		}
	}
	if d.Bad() {
		s.Warnings = append(s.Warnings, d.Sentence+"; "+d.Remedy)
	}
}
