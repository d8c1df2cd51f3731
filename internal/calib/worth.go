package calib

import "fitsqa/internal/stats"

// WorthInput is one group of subs as the question "are darks worth it?" needs it.
type WorthInput struct {
	Label     string
	Subs      int
	Exposure  float64     // s, of one sub
	SkyRate   stats.Value // e-/s per pixel, median of the good subs
	ReadNoise stats.Value // e-
	DarkRate  stats.Value // e-/s per pixel at the subs' temperature
	Dark      *Set        // the dark set that describes the sensor best; nil when there is none
	DitherPx  float64     // rms of the shifts between subs in px, NaN when not measured
}

// Worth is the answer for one group of subs.
type Worth struct {
	Label             string
	Verdict           string // "not worth it", "a defect map is enough", "worth it: M frames", or "" with Why
	Why               string
	Sentence          string      // the verdict with its figures, for people
	BenefitPct        stats.Value // how much lower the stack's noise is with the best number of darks, %
	BreakEvenExposure stats.Value // s
	CostHours         float64
	Cases             []WorthCase
}

// WorthCase is the noise budget of the finished stack in one case, e- per pixel of one average sub's scale.
type WorthCase struct {
	Darks                                                int // M, 0 for none
	Dithered                                             bool
	Sky, DarkShot, Read, FixedPattern, MasterDark, Total float64 // e-, each the sd in the mean of all subs
	HotPixelsLeft                                        float64
}

// DarksWorth weighs darks for one group of subs.
func DarksWorth(in WorthInput) Worth { return Worth{} }
