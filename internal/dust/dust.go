// Package dust finds the shadows of dust in flats and tells whether they lie
// where the subs have them.
//
// A shadow that lies in the subs where the flat has it vanishes by the division.
// One that moved in between leaves a bright imprint of its own depth where the
// flat has it, and stays dark where it is now. Both are fixed to the sensor:
// the median over subs of the corrected background, each divided by its sky,
// shows them. What the noise at a shadow's size and the sky's own structure can
// feign is measured by fitting the same shadow to places of that median where
// the flat has none; how much of an imprint moves with the stars, as nebulae do,
// is measured from sub to sub by the dither, and taken off. A short shift leaves edges
// that hardly stand out one by one; that several shadows leave the same one tells it.
//
// A false alarm costs more than a miss: new flats for nothing. Nothing is said
// of an imprint that is stronger than the shadow could leave, nor of a single
// shadow that got deeper or shallower while others did not.
//
// Common practice, no source: the diameter of a shadow is the grain's distance
// from the sensor over the focal ratio, so that a turned camera or a shifted
// filter moves the shadows, another spacing changes their size, and cleaning or
// new dust changes single ones.
package dust

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Sub is what one sub tells of dust.
type Sub struct {
	Width, Height, Step int                    // of its small picture
	Preview             func() *frames.Preview // the picture, corrected with master and flat, so that its level is the sky's
	Noise               float64                // of a pixel over its sky: subs with the least are used
	Stars               []Spot                 // not to be mistaken for sky

	// ToSky takes a pixel to where its light comes from, in pixels of a
	// reference that all subs share, and FromSky the other way; nil when unknown.
	ToSky, FromSky func(x, y float64) (float64, float64)
}

// Spot is a round patch of the frame, px.
type Spot struct{ X, Y, Radius float64 }

// Input is a flat set and the subs of one group that it corrects.
type Input struct {
	Flat    string          // label of the flat set; "" when a master that was found there was applied
	Picture *frames.Preview // the master flat, small
	Shadows []Shadow        // of the flat
	Lights  *frames.Group
	Subs    []Sub

	FlatNoise float64 // of a pixel of the flat, relative to its light; 0 or NaN: not known
}

const (
	dustSubs     = 40   // most subs looked at: more hardly lower a noise that is low already
	fewestSubs   = 5    // a median of fewer is no defence against what is in one sub only
	noisiest     = 0.3  // share of a shadow's shape that may be noise of the flat
	imprintLimit = 0.3  // of the depth, from which a shadow does not match
	residueLimit = 0.2  // of its root mean square, from which what is left does not match: a shift leaves an edge before it leaves an imprint
	imprintSigma = 5    // significance of both
	brightest    = 1.5  // of the depth: a shadow that is gone leaves its own, and what the flat's noise adds
	strongest    = 2.5  // times the shadow's own squares: it and its moved self leave two of them at most
	finestTold   = 0.12 // error of the imprint at which a shadow that is gone can still be known to be
)

// Compare compares the shadows of a flat with the subs that it corrects.
func Compare(in Input) Match {
	missing := stats.Missing(NoneMoved)
	d := Match{Lights: in.Lights.Label(), Filter: in.Lights.Filter,
		WithinPx: math.NaN(), WorstPct: stats.Missing(NothingWrong), ShiftX: missing, ShiftY: missing, RotationDeg: missing, DiameterRatio: missing}
	if in.Picture == nil {
		return d.cannot(fact.Of(FoundMaster))
	}
	d.Flat = in.Flat
	s, why := newResidue(in.Picture, in.Subs)
	if why != "" {
		return d.cannot(fact.Of(why))
	}
	if in.FlatNoise > 0 {
		s.flatNoise = in.FlatNoise / float64(in.Picture.Step)
	}
	d.Subs = len(s.subs)
	var wrong []*imprint
	for _, shadow := range in.Shadows {
		m, im := s.judge(shadow, in.Shadows)
		d.Shadows = append(d.Shadows, m)
		if im != nil {
			im.at = len(d.Shadows) - 1
			wrong = append(wrong, im)
		}
	}
	d.New = s.newShadows(in.Shadows)
	if len(wrong) > 0 {
		s.follow(&d, wrong)
		d.doubt(wrong, float64(in.Picture.Step))
	}
	s.shifted(&d, in.Shadows)
	for _, m := range d.Shadows {
		if m.State != ShadowUnknown {
			d.Told++
		}
		if m.wrong() {
			d.Wrong++
			d.worst(m.ResiduePct.V)
		}
	}
	for _, n := range d.New {
		d.worst(n.DepthPct)
	}
	d.conclude()
	return d
}

// doubt takes back what dust does not do: single shadows that got deeper or
// shallower where they are while others did not, or that moved by less than a cell.
func (d *Match) doubt(wrong []*imprint, step float64) {
	var known, deeper, shallower, moved int
	for _, m := range d.Shadows {
		switch {
		case m.State == ShadowPartly && m.Imprint.V < 0:
			deeper++
		case m.State == ShadowPartly:
			shallower++
		case m.State == ShadowMoved && math.Hypot(m.MovedX, m.MovedY) >= step:
			moved++
		}
		if m.State != ShadowUnknown {
			known++
		}
	}
	together := known >= 3 && max(deeper, shallower) == known
	for _, im := range wrong {
		m := &d.Shadows[im.at]
		slightly := m.State == ShadowMoved && moved < 2 && (!im.large || math.Hypot(m.MovedX, m.MovedY) < step)
		if slightly || m.State == ShadowPartly && !together {
			m.State, m.MovedX, m.MovedY = ShadowUnknown, math.NaN(), math.NaN()
			m.Why = fact.Of(AloneOther)
		}
	}
}
