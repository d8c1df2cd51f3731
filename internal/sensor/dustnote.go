package sensor

import (
	"math"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

func (f *flatRun) measureShadows(flat []float32, workers int) {
	width := f.group.Width
	shadows, ok := dust.Shadows(cellMeans(flat, width, dust.CellStep(width, len(flat)/width), workers))
	if !ok {
		f.shadowN = stats.Missing(FramesSmall)
		return
	}
	f.detail.Shadows = shadows
	f.shadowN = stats.Known(float64(len(shadows)), math.NaN(), len(f.Frames))
}

// seatDust tells the dust on filters from that on the sensor's window, by the
// flats of other filters of the same camera.
func (cs *Cameras) seatDust() {
	seated := map[*flatRun]bool{}
	for _, f := range cs.flats {
		if f.why.Code != "" || f.detail == nil || f.detail.Master == nil || seated[f] {
			continue
		}
		var flats []dust.Flat
		for _, o := range cs.flats {
			g, h := f.group, o.group
			if o.why.Code == "" && o.detail != nil && o.detail.Master != nil && g.Camera == h.Camera && g.Width == h.Width && g.Height == h.Height && g.BinX == h.BinX && g.BinY == h.BinY {
				seated[o] = true
				flats = append(flats, dust.Flat{Filter: string(h.Filter), Picture: o.detail.Master, Shadows: o.detail.Shadows})
			}
		}
		dust.Seat(flats)
	}
}

// NoteDust puts what the subs tell into the set of the flat that corrected them:
// a note beside the count of shadows, and a warning where they do not match.
// What cannot be decided is said once, not for every group of subs.
func (s *Set) NoteDust(d dust.Match) {
	note := d.Note()
	if d.Why.Code != "" {
		note = fact.Of(DustUntold, fact.Reason(d.Why))
	}
	if f := &s.Flat.Dust; f.OK() && !(d.Why.Code != "" && fact.Has(f.Note, DustUntold)) {
		f.Note = append(f.Note, note)
	}
	if d.Bad() {
		s.warn(DustUnmatched, append(d.Found.Values, fact.Text("finding", string(d.Found.Code)))...)
	}
}
