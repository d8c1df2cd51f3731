// Package subs judges subs: baselines of each group, causes by evidence,
// verdicts with a sentence, and what keeping or dropping each does to the
// stack. It never touches a file.
package subs

import (
	"time"

	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
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

// Cause is why a sub is spoiled or suspect.
type Cause string

// The causes of the output contract.
const (
	Cloud         Cause = "cloud"
	Haze          Cause = "haze"
	Trailed       Cause = "trailed"
	Soft          Cause = "soft"
	BrightSky     Cause = "bright_sky"
	Twilight      Cause = "twilight"
	Moonlit       Cause = "moonlit"
	FewStars      Cause = "few_stars"
	NoStars       Cause = "no_stars"
	WrongSettings Cause = "wrong_settings"
	Truncated     Cause = "truncated"
	Unreadable    Cause = "unreadable"
	Duplicate     Cause = "duplicate"
)

// Sub is one sub on its way through judgement. The first part is filled by
// the caller, the second by Judge. Unknown numbers are NaN.
type Sub struct {
	File                       string // name as in the reports
	Target                     string
	Filter                     string
	Camera                     string
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
	ElectronsPerADU            float64 // NaN unknown
	Calibrated                 bool    // the offset is removed: sky level is meaningful
	SkyADU                     stats.Value
	SkyRate                    stats.Value // e-/s per px
	NoiseADU                   stats.Value
	Field                      *stars.Field // nil when unreadable
	Align                      stars.Alignment
	Transparency               stars.Transparency
	Sky                        sky.Conditions
	ReadErr                    string // why the file could not be read; "" when it could
	TruncatedFile              bool   // ReadErr says that the file is cut short
	DuplicateOf                string // the file that holds the same pixels; "" when unique

	Weight       stats.Value // 0..1, share in the best linear stack, 1 for the group's best
	Verdict      Verdict
	Causes       []Cause // leading cause first
	Sentence     string  // figure, baseline and limit in one short sentence
	UserDecision bool    // the verdict is the user's own
	Group        string  // label of the group it was judged in
}

// Limits are the thresholds of the verdicts.
type Limits struct {
	MinTransparencyKeep float64 // below: doubtful
	MinTransparencyCull float64 // below: cull
}

// DefaultLimits is what the command line starts from.
var DefaultLimits = Limits{}

// Result is the judgement of a night.
type Result struct {
	Groups   []*Group
	Events   []Event // runs of bad subs
	Warnings []string
}

// Group is subs of one target, filter, exposure and gain, judged together.
type Group struct {
	Label                                              string
	Target, Filter                                     string
	Exposure                                           float64
	Subs                                               []*Sub // in time order
	ShotSeconds, UsableSeconds, EquivalentClearSeconds float64
	LostSeconds                                        map[Cause]float64
	Economics                                          Economics
	Notes                                              []string
}

// Economics is signal to noise of the group's stack against how many of the
// worst subs are dropped, relative to keeping all in a plain average.
type Economics struct {
	Plain, Weighted []float64 // index: number dropped, worst first; the mean of what is left
	BestDrop        int       // number to drop for the best plain average
	UserDrop        int
	Words           string
}

// Event is a run of bad subs with one cause.
type Event struct {
	Cause      Cause
	Start, End time.Time
	Subs       int
	Words      string // "cloud 22:14 to 22:51: 14 subs"
}

// Judge fills the second part of every sub and sums up the groups.
func Judge(all []*Sub, limits Limits) *Result { return nil }
