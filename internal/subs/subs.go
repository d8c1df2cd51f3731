// Package subs judges subs: baselines of each group, causes by evidence, verdicts, and
// what keeping or dropping each does to the stack. It never touches a file.
//
// The model. Subs of one target, filter, exposure and gain are a group. The
// group's clear subs (transparency within a tenth of the best, else its best
// quarter) define what the sky allowed; of each figure their best quartile is
// the baseline, so that neither half a night of cloud nor a slow drift moves
// it, and exposures of one target and filter share that of width and shape.
//
// A sub's light (what cloud, haze and dew took, what Sun, Moon and lamps added,
// what a warm sensor adds) weighs against what an average of scaled subs bears:
// it is culled where it takes more than it gives (burden.go), and for nothing
// else but half of its light gone, with gradients, or ten times the sky. Width is held
// against the baseline by ratio, a doubt beside the sharpest quarter and a cull beside
// the best average, coherent elongation against absolute limits, both as
// the aim of the stack wants it (aim.go); where hardly any sub of a group is better,
// only what spoils any stack is culled for it (shape.go). Every finding names a cause, a verdict
// and how far beyond the limit the figure is; the strictest verdict stands, and
// the finding that is furthest beyond leads. Baselines are of the subs that are
// not culled, round by round, so that what is left is judged the same once more; a
// sub stays culled by the baseline that it was culled by, and is told by the one that the
// group ends with where that culls it as well.
//
// The stack. Faint extended light adds up as signal s = transparency ×
// exposure, and a pixel's noise n is what differs from sub to sub there: faint
// stars raise a clear sub's scatter, and cost its stack nothing.
// In a plain average the signal to noise is Σs/√Σn², in one of k subs scaled to
// one signal k/√Σ(n/s)², in the best weighted one √Σ(s/n)² (weights s/n²,
// Gauss-Markov). Noise is taken as independent from sub to sub.
//
// What it does not do: dew that settles by fits and starts is taken for haze or
// cloud where no halos around the stars tell it, and cirrus with halos that thickens
// until the night ends for dew, while without halos both are named; and shape is judged by
// one figure for the whole field, so that stars drawn out in one corner are only seen when
// the field's median feels it.
package subs

import (
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// Verdict on one sub.
type Verdict string

// The verdicts of the output contract.
const (
	Keep     Verdict = "keep"
	Doubtful Verdict = "doubtful"
	Cull     Verdict = "cull"
)

// Sub is one sub on its way through judgement. The first part is filled by
// the caller, the second by Judge. Unknown numbers are NaN.
type Sub struct {
	File                       string // name as in the reports
	Target                     names.Name
	Filter                     names.Name
	Camera                     names.Name
	Stack                      int       // subs of one number are stacked and judged together, as package frames sorts them
	Start                      time.Time // UTC; zero when unknown
	Exposure                   float64   // s
	GainSetting                float64
	OffsetSetting              float64
	SensorTemp                 float64 // °C
	SetTemp                    float64 // °C
	Binning                    int
	Width, Height              int
	PierSide                   string
	FocusPosition, AmbientTemp float64
	PixelScale                 float64 // arcsec/px
	ElectronsPerADU            float64
	Calibrated                 bool // the offset is removed: sky level is meaningful
	SkyADU                     stats.Value
	SkyRate                    stats.Value  // e-/s per px
	DarkRate                   stats.Value  // e-/s per px, of the sensor at the group's temperature
	NoiseADU                   stats.Value  // of the star-free background, faint stars and nebula included
	RandomNoise                stats.Value  // ADU: the part of it that differs from sub to sub, which is what a stack averages down
	Field                      *stars.Field // nil when unreadable
	Align                      registration.Alignment
	Transparency               photometry.Transparency
	Spread                     stats.Value // half-flux diameter of all stars of others at their places, over the usual one; N = stars, 0 where they were not sought
	Drawn                      stars.Drawn // how far the light there is drawn out all alike
	Sky                        sky.Conditions
	ReadErr                    string  // why the file could not be read; "" when it could
	TruncatedFile              bool    // ReadErr says that the file is cut short
	Unread                     bool    // ReadErr is of the system's or of this program's reading and says nothing about the file
	DuplicateOf                string  // the file that holds the same pixels; "" when unique
	Decision                   Verdict // the user's own, Keep or Cull; "" when there is none. ApplyDecisions fills it.

	Weight       stats.Value // 0..1, share in the best linear stack, 1 for the group's best; N = 1
	SeasonShare  float64     // what weight 1 is on the scale of the season's best night; 0: nothing else is known
	WeightDetail stats.Value // Weight × (best FWHM / FWHM)²: for what is as small as a star
	Verdict      Verdict
	Measured     Verdict     // what the figures say, whatever the user decided
	Causes       []Cause     // leading cause first
	Warmed       bool        // a warmer sensor's dark current explains what its level is above the baseline's
	Low          bool        // soft as its altitude makes it, and no more
	Findings     []Finding   // what speaks for them, in their order
	Remarks      []fact.Fact // what changes no verdict
	UserDecision bool        // the verdict is the user's own
	Group        string      // label of the group it was judged in
}

// Result is the judgement of a night.
type Result struct {
	Groups      []*Group
	Events      []Event // runs of bad subs
	FocusDrifts []FocusDrift
	FocusLaws   []FocusLaw // one a camera whose focuser was moved often enough
}

// Group is subs of one target, filter, exposure and gain, judged together.
type Group struct {
	Label                  string // for people; Stack tells groups apart
	Apart                  string // what tells it from others of its target, filter and exposure ("gain 300"); "" without such
	Minor                  bool   // holds hardly any of the time of its target and filter: of another exposure, as subs to focus by are
	Stack                  int    // as of its subs
	Target, Filter         names.Name
	Exposure               float64 // s
	Subs                   []*Sub  // in time order
	Baseline               Baseline
	ShotSeconds            float64 // exposure of all subs, readable or not; NaN, as the next two, where no header tells one
	UsableSeconds          float64 // exposure of those not culled
	Merit                  float64 // of a sub of weight 1: signal to noise squared a second, for light of one ADU in the whole exposure; NaN when no weight is known
	Season                 Season  // against other nights
	EquivalentClearSeconds float64 // sum of exposure × weight over those not culled
	// LostSeconds is what each cause cost, under the leading cause of each
	// sub: the whole exposure of a culled one, exposure × (1 - weight) of a
	// doubtful one.
	LostSeconds map[Cause]float64
	Economics   Economics
	Poor        []Cause // what the typical sub suffers from: the group is poor as a whole
	Followed    float64 // px by which the motion of the comet that was followed draws out the stars; 0 without one
	Notes       []fact.Fact
}
