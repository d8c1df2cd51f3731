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
// is measured from sub to sub by the dither, and taken off.
//
// A false alarm costs more than a miss: new flats for nothing. Nothing is told
// of an imprint that is stronger than the shadow could leave, nor of a single
// shadow that got deeper or shallower while others did not.
//
// Common practice, no source: the diameter of a shadow is the grain's distance
// from the sensor over the focal ratio, so that a turned camera or a shifted
// filter moves the shadows, another spacing changes their size, and cleaning or
// new dust changes single ones.
package dust

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
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
	Flat    string          // label of the flat set; "" when no flat was applied
	Picture *frames.Preview // the master flat, small
	Shadows []Shadow        // of the flat
	Lights  *frames.Group
	Subs    []Sub
}

// Match tells whether the dust shadows of a flat lie where the subs have
// them. Shift, rotation and ratio are those of the moved ones, flat to subs.
type Match struct {
	Lights, Flat  string // labels of the group of subs and of the flat set
	Filter        names.Name
	Subs          int // looked at
	Shadows       []ShadowMatch
	New           []Shadow    // in the subs, and not in the flat
	Told          int         // shadows of which it can be told
	Wrong         int         // of these, how many do not match
	WorstPct      stats.Value // the strongest imprint or new shadow, % of the sky
	ShiftX        stats.Value // px, at the middle of the frame
	ShiftY        stats.Value
	RotationDeg   stats.Value // counter-clockwise, about the middle of the frame
	DiameterRatio stats.Value
	Why           string // why nothing can be told; "" when something can
	Sentence      string // what was found, for people
	Remedy        string // what to do about it; "" when nothing is wrong
}

// The states of a shadow.
const (
	ShadowMatches = "matches"
	ShadowMoved   = "moved"     // the subs have it elsewhere
	ShadowGone    = "gone"      // the subs do not have it
	ShadowPartly  = "partly"    // the subs have it, weaker or stronger than the flat
	ShadowUnknown = "not known" // with Why
)

// ShadowMatch is one shadow of the flat in the subs.
type ShadowMatch struct {
	Shadow
	State      string
	Why        string      // why State is not known
	Imprint    stats.Value // what the division leaves over the depth of the shadow: 0 where it matches, 1 where the subs have none
	ResiduePct stats.Value // the strongest that it leaves, % of the sky
	MovedX     float64     // px, to where the subs have it; NaN when not moved
	MovedY     float64
}

const (
	dustSubs     = 40   // most subs looked at: more hardly lower a noise that is low already
	fewestSubs   = 5    // a median of fewer is no defence against what is in one sub only
	imprintLimit = 0.3  // of the depth, from which a shadow does not match
	residueLimit = 0.2  // of its root mean square, from which what is left does not match: a shift leaves an edge before it leaves an imprint
	imprintSigma = 5    // significance of both
	brightest    = 1.5  // of the depth: a shadow that is gone leaves its own, and what the flat's noise adds
	strongest    = 2.5  // times the shadow's own squares: it and its moved self leave two of them at most
	finestTold   = 0.12 // error of the imprint at which a shadow that is gone can still be told
)

// Compare compares the shadows of a flat with the subs that it corrects.
func Compare(in Input) Match {
	missing := stats.Missing("no shadow moved")
	d := Match{Lights: in.Lights.Label(), Filter: in.Lights.Filter,
		WorstPct: stats.Missing("nothing is wrong"), ShiftX: missing, ShiftY: missing, RotationDeg: missing, DiameterRatio: missing}
	if in.Picture == nil {
		return d.cannot("no flat was applied")
	}
	d.Flat = in.Flat
	s, why := newResidue(in.Picture, in.Subs)
	if why != "" {
		return d.cannot(why)
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
	d.say()
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
			m.Why = "it alone is of another depth in the subs, which dust does not do: something else lies there"
		}
	}
}

func (m *ShadowMatch) wrong() bool { return m.State != ShadowMatches && m.State != ShadowUnknown }

// Bad tells whether anything is wrong with the flat.
func (d *Match) Bad() bool { return d.Wrong > 0 || len(d.New) > 0 }

// whose names the subs in words.
func (d *Match) whose() string { return "the subs of " + strings.TrimPrefix(d.Lights, "light ") }

// Headline is the finding in one line, for where the night is summed up.
func (d *Match) Headline() string {
	return fmt.Sprintf("the dust in %s does not match %s: up to %.1f %% of the sky is left; shoot new flats (see the flats for what moved)", d.Flat, d.whose(), d.WorstPct.V)
}

func (d Match) cannot(why string) Match {
	d.Why = why
	d.Sentence = fmt.Sprintf("whether dust moved before %s cannot be told: %s", d.whose(), why)
	return d
}

func (d *Match) worst(pct float64) {
	if !d.WorstPct.OK() || pct > d.WorstPct.V {
		d.WorstPct = stats.Known(pct, math.NaN(), d.Subs)
	}
}

// say puts the result into words.
func (d *Match) say() {
	if d.Told == 0 && len(d.Shadows) > 0 && len(d.New) == 0 {
		*d = d.cannot(d.Shadows[0].Why)
		return
	}
	if !d.Bad() {
		switch {
		case len(d.Shadows) == 0:
			d.Sentence = d.whose() + " show no dust that the flat lacks"
		case d.Told < len(d.Shadows):
			d.Sentence = fmt.Sprintf("%d of %s lie where %s have them, of the others it cannot be told", d.Told, fact.Plural(len(d.Shadows), "dust shadow"), d.whose())
		default:
			d.Sentence = fmt.Sprintf("%s where %s have dust", lie(len(d.Shadows)), d.whose())
		}
		return
	}
	var words []string
	if d.Wrong > 0 {
		do := "do"
		if d.Wrong == 1 {
			do = "does"
		}
		words = append(words, fmt.Sprintf("%d of %s of the flat %s not match %s (%s)", d.Wrong, fact.Plural(d.Told, "dust shadow"), do, d.whose(), d.where()))
	} else {
		words = append(words, d.whose()+" do not match the flat")
	}
	words = append(words, fmt.Sprintf("the worst leaves %.1f %% of the sky", d.WorstPct.V))
	words = append(words, d.meaning()...)
	d.Sentence = strings.Join(words, "; ")
	d.Remedy = "shoot new flats of this filter while all is still as it was for the subs, and from now on before camera, filter or focus are touched"
}

func lie(n int) string {
	if n == 1 {
		return "1 dust shadow of the flat lies"
	}
	return fmt.Sprintf("%d dust shadows of the flat lie", n)
}

// where names the worst shadow.
func (d *Match) where() string {
	worst := -1
	for i := range d.Shadows {
		if d.Shadows[i].wrong() && (worst < 0 || d.Shadows[i].ResiduePct.V > d.Shadows[worst].ResiduePct.V) {
			worst = i
		}
	}
	m := d.Shadows[worst]
	return fmt.Sprintf("the strongest imprint at %.0f,%.0f", m.X, m.Y)
}

// meaning tells what the pattern of the wrong shadows speaks for.
func (d *Match) meaning() []string {
	var words []string
	count := map[string]int{}
	var imprints []float64
	for _, m := range d.Shadows {
		count[m.State]++
		if m.State != ShadowUnknown {
			imprints = append(imprints, m.Imprint.V)
		}
	}
	if n := count[ShadowMoved]; n > 0 {
		text := fmt.Sprintf("%s moved", was(n))
		if d.ShiftX.OK() {
			text += fmt.Sprintf(" by %+.1f, %+.1f px", d.ShiftX.V, d.ShiftY.V)
		}
		turned := d.RotationDeg.OK() && math.Abs(d.RotationDeg.V) > 3*d.RotationDeg.Err && math.Abs(d.RotationDeg.V) > 0.3
		switch {
		case turned:
			text += fmt.Sprintf(" and %.1f° about the middle: the camera was turned against the dust", d.RotationDeg.V)
		default:
			text += ": filter, wheel or camera did not sit where they did for the flats"
		}
		words = append(words, text)
		if r := d.DiameterRatio; r.OK() && math.Abs(r.V-1) > max(3*r.Err, 0.07) {
			words = append(words, fmt.Sprintf("the shadows are %.2f times as wide: the dust is at another distance from the sensor (focus, spacing, or a filter of another thickness)", r.V))
		}
	}
	if n := count[ShadowPartly]; n > 0 {
		mean, sigma := stats.Median(imprints), stats.MADSigma(imprints)
		switch {
		case n >= 3 && n == d.Told && sigma < 0.2*math.Abs(mean) && mean > 0:
			words = append(words, fmt.Sprintf("all are corrected too much by %.0f %%: the subs hold a level that did not come through the telescope (a wrong offset, dark current left in, stray light)", 100*mean))
		case n >= 3 && n == d.Told && sigma < 0.2*math.Abs(mean):
			words = append(words, fmt.Sprintf("all are corrected too little by %.0f %%: too much is taken off the subs, or too little off the flats", -100*mean))
		default:
			words = append(words, fmt.Sprintf("%s of another depth in the subs", are(n)))
		}
	}
	if n := count[ShadowGone]; n > 0 {
		words = append(words, fmt.Sprintf("%s not in the subs: cleaned or fallen off between flats and subs, or moved far", are(n)))
	}
	if n := len(d.New); n > 0 {
		s := d.New[0]
		words = append(words, fmt.Sprintf("%s in the subs that the flat lacks, the first at %.0f,%.0f %.0f px wide %.1f %% deep: dust that came between flats and subs", fact.Plural(n, "shadow"), s.X, s.Y, s.Diameter, s.DepthPct))
	}
	return words
}

func was(n int) string {
	if n == 1 {
		return "1"
	}
	return fmt.Sprintf("%d, all", n)
}

func are(n int) string {
	if n == 1 {
		return "1 is"
	}
	return fmt.Sprintf("%d are", n)
}

// Note is the result in short where a warning has the whole.
func (d *Match) Note() string {
	if !d.Bad() {
		return d.Sentence
	}
	return fmt.Sprintf("%d of %d do not match %s", d.Wrong, d.Told, d.whose())
}
