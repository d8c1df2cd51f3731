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
// What cannot be told is said once, not for every group of subs.
func (s *Set) NoteDust(d dust.Match) {
	const untold = "whether dust moved before the subs cannot be told"
	note := d.Note()
	if d.Why != "" {
		note = untold + ": " + d.Why
	}
	for i := range s.Metrics {
		m := &s.Metrics[i]
		if m.Name == "dust_shadows" && m.Value.OK() && !(d.Why != "" && strings.Contains(m.Note, untold)) {
			m.Note = strings.TrimPrefix(m.Note+"; "+note, "; ")
		}
	}
	if d.Bad() {
		s.Warnings = append(s.Warnings, d.Sentence+"; "+d.Remedy)
	}
}
