// Package worth tells what calibration frames do for the finished stack of a group
// of subs: whether darks are worth shooting, how many bias frames and flats are
// enough.
package worth

import (
	"fmt"
	"math"

	"fitsqa/internal/calib"
	"fitsqa/internal/stats"
)

// Input is one group of subs as the questions "are darks worth it?", "how
// many bias frames?" and "enough flats?" need it.
type Input struct {
	Label     string
	Camera    calib.Mode // that shot the subs
	Subs      int
	Exposure  float64     // s, of one sub
	SkyRate   stats.Value // e-/s per pixel, median of the good subs
	ReadNoise stats.Value // e-
	DarkRate  stats.Value // e-/s per pixel at the subs' temperature
	Dark      *calib.Set  // the dark set that describes the sensor best; nil when there is none
	Bias      *calib.Set  // the bias set that fits; nil when there is none
	Flat      *calib.Set  // the flat set that fits; nil when there is none
	DarkFits  bool        // Dark is subtracted from the subs, so that no bias is
	DitherPx  float64     // rms of the shifts between subs in px, NaN when not measured
}

// Answer is the verdict on darks for one group of subs.
type Answer struct {
	Label             string
	Camera            calib.Mode
	Verdict           string // "not worth it", "a defect map is enough", "worth it: M frames", or "" with Why
	Darks             int    // M of Verdict, 0 when darks are not worth it
	Why               string
	Sentence          string      // the verdict with its figures, for people
	BenefitPct        stats.Value // how much lower the stack's noise is with the best number of darks, %; negative: higher
	BreakEvenExposure stats.Value // s, of one sub, from which darks lower the noise at all
	CostHours         float64     // of shooting the darks that Sentence speaks of
	Cases             []Case
}

// Case is the noise budget of the finished stack in one case, e- per pixel of one average sub's scale.
type Case struct {
	Darks                                                int // M, 0 for none
	Dithered                                             bool
	Sky, DarkShot, Read, FixedPattern, MasterDark, Total float64 // e-, each the sd in the mean of all subs
	HotPixelsLeft                                        float64
	Glow                                                 float64 // e-, height of the glow left in the stack
}

// WorthyBenefit is the drop of the stack's noise in percent from which darks
// are worth it: 5 % is what a tenth more exposure would give.
const WorthyBenefit = 5

// Dither moves the sensor's pattern against the stars: from ditherMoves px rms
// on no two subs share it. rejectFrom is how many subs it takes before an
// outlier in one of them can be told from the rest.
const (
	ditherMoves = 1
	rejectFrom  = 5
)

// darkCounts are the numbers of darks weighed.
var darkCounts = []int{10, 20, 50}

// sensor is what the budget needs of the camera, in electrons and at the
// subs' temperature.
type sensor struct {
	read, dark, pattern, patternErr float64   // e-, e-/s, e-/s, e-/s
	glow                            float64   // e-/s
	hot                             float64   // pixels
	hotRates                        []float64 // e-/s, of those listed
	notes                           string
}

// budget is the noise of a stack of n subs of t seconds with m darks.
//
// Model: sky, dark current and read-out add white noise to each sub, which the
// mean of n subs divides by sqrt n. The sensor's dark pattern, white from
// pixel to pixel, is the same in every sub. Without dither it stays as it is;
// with dither the registered subs hold n different pieces of it, and it
// averages as they do. Darks take the pattern off and add their own noise,
// which is again the same in every sub and again averages only with dither.
func (s sensor) budget(sky, t float64, n, m int, dithered bool) Case {
	positions := 1.0
	if dithered {
		positions = float64(n)
	}
	subs := float64(n)
	c := Case{Darks: m, Dithered: dithered,
		Sky: math.Sqrt(sky * t / subs), DarkShot: math.Sqrt(s.dark * t / subs), Read: s.read / math.Sqrt(subs)}
	if m == 0 {
		c.FixedPattern = s.pattern * t / math.Sqrt(positions)
		c.Glow = s.glow * t
	} else {
		c.MasterDark = math.Sqrt((s.dark*t+s.read*s.read)/float64(m)) / math.Sqrt(positions)
	}
	c.Total = math.Sqrt(c.Sky*c.Sky + c.DarkShot*c.DarkShot + c.Read*c.Read + c.FixedPattern*c.FixedPattern + c.MasterDark*c.MasterDark)
	switch {
	case dithered && n >= rejectFrom: // each sub's hot pixel is an outlier among the others
	case m == 0:
		c.HotPixelsLeft = s.hot
	default:
		// Subtracted, but their own shot noise stays.
		for _, rate := range s.hotRates {
			if math.Sqrt(rate*t/subs*(1+subs/float64(m))) > 5*c.Total {
				c.HotPixelsLeft++
			}
		}
	}
	return c
}

// breakEven is the exposure from which m darks lower the noise: their noise
// sqrt((d t + r²)/m) equals the pattern p t that they take off. Dither and the
// number of subs thin both alike.
func (s sensor) breakEven(m int) float64 {
	a, b, c := s.pattern*s.pattern, s.dark/float64(m), s.read*s.read/float64(m)
	return (b + math.Sqrt(b*b+4*a*c)) / (2 * a)
}

// OfDarks weighs darks for one group of subs.
func OfDarks(in Input) Answer {
	w := Answer{Label: in.Label, Camera: in.Camera, BenefitPct: stats.Missing("not weighed"), BreakEvenExposure: stats.Missing("not weighed")}
	s, why := in.sensor()
	if why != "" {
		w.Why = why
		w.BenefitPct, w.BreakEvenExposure = stats.Missing(why), stats.Missing(why)
		return w
	}
	t, sky := in.Exposure, max(in.SkyRate.V, 0)
	for _, dithered := range []bool{false, true} {
		for _, m := range append([]int{0}, darkCounts...) {
			w.Cases = append(w.Cases, s.budget(sky, t, in.Subs, m, dithered))
		}
	}
	dithered := in.DitherPx >= ditherMoves // false when not measured: the stricter case
	none := s.budget(sky, t, in.Subs, 0, dithered)
	benefit := func(s sensor, m int) float64 {
		return 100 * (1 - s.budget(sky, t, in.Subs, m, dithered).Total/s.budget(sky, t, in.Subs, 0, dithered).Total)
	}
	best := darkCounts[len(darkCounts)-1]
	m := best
	for _, k := range darkCounts { // the fewest that give nine tenths of what most give
		if benefit(s, k) >= 0.9*benefit(s, best) {
			m = k
			break
		}
	}
	more := s
	more.pattern += s.patternErr
	w.BenefitPct = stats.Known(benefit(s, best), math.Abs(benefit(more, best)-benefit(s, best)), framesOf(in.Dark))
	if s.pattern > 0 {
		w.BreakEvenExposure = stats.Known(s.breakEven(m), s.breakEven(m)*s.patternErr/s.pattern, framesOf(in.Dark))
	} else {
		w.BreakEvenExposure = stats.Missing("no fixed dark pattern was found")
	}
	switch {
	case benefit(s, m) >= WorthyBenefit:
		w.Verdict, w.Darks = fmt.Sprintf("worth it: %d frames", m), m
	case none.Glow > none.Total:
		// Glow leaves a bright patch whatever the noise; enough darks that
		// they add next to none.
		for _, m = range darkCounts {
			if benefit(s, m) > -WorthyBenefit/2 {
				break
			}
		}
		w.Verdict, w.Darks = fmt.Sprintf("worth it: %d frames", m), m
	case none.HotPixelsLeft > 0:
		w.Verdict = "a defect map is enough"
	default:
		w.Verdict = "not worth it"
	}
	w.CostHours = float64(m) * t / 3600
	w.Sentence = w.words(in, s, none, m, benefit(s, m), dithered)
	return w
}

// words is the verdict with its figures.
func (w *Answer) words(in Input, s sensor, none Case, m int, benefit float64, dithered bool) string {
	change := fmt.Sprintf("lower the stack's noise by %.1f %%", benefit)
	switch {
	case math.Abs(benefit) < 0.05:
		change = "not change the stack's noise"
	case benefit < 0:
		change = fmt.Sprintf("raise the stack's noise by %.1f %%", -benefit)
	}
	how := "without dither"
	switch {
	case dithered:
		how = fmt.Sprintf("with the dither of %.1f px", in.DitherPx)
	case math.IsNaN(in.DitherPx):
		how = "if the subs were not dithered"
		with := 100 * (1 - s.budget(max(in.SkyRate.V, 0), in.Exposure, in.Subs, m, true).Total/s.budget(max(in.SkyRate.V, 0), in.Exposure, in.Subs, 0, true).Total)
		how += fmt.Sprintf(" (with dither by %.1f %%)", with)
	}
	text := fmt.Sprintf("%s: %d darks would %s %s and take %.1f h", w.Verdict, m, change, how, w.CostHours)
	if none.Glow > none.Total {
		// What decides comes first: the glow, whatever the noise does.
		text = fmt.Sprintf("%s, for the glow: its %.2g e- stand out from the stack's noise of %.2g e-; elsewhere %d darks would %s %s, and take %.1f h",
			w.Verdict, none.Glow, none.Total, m, change, how, w.CostHours)
	}
	if none.HotPixelsLeft > 0 {
		text += fmt.Sprintf("; %.0f hot pixels need a defect map otherwise", none.HotPixelsLeft)
	}
	if w.BreakEvenExposure.OK() {
		text += fmt.Sprintf("; darks lower the noise from subs of %s on", seconds(w.BreakEvenExposure.V))
	}
	if s.notes != "" {
		text += " (" + s.notes + ")"
	}
	return text
}

func seconds(s float64) string {
	switch {
	case s >= 7200:
		return fmt.Sprintf("%.1f h", s/3600)
	case s >= 10:
		return fmt.Sprintf("%.0f s", s)
	default:
		return fmt.Sprintf("%.2g s", s)
	}
}

// framesOf is how many frames a set has, none for no set.
func framesOf(s *calib.Set) int {
	if s == nil || s.Group == nil {
		return 0
	}
	return len(s.Group.Frames)
}

// known is an error bar, 0 where it is not known.
func known(err float64) float64 {
	if math.IsNaN(err) {
		return 0
	}
	return err
}

// sensor gathers the camera's figures, or says which one is lacking.
func (in Input) sensor() (s sensor, why string) {
	switch {
	case in.Subs < 1:
		return s, "no subs to stack"
	case !(in.Exposure > 0):
		return s, "the subs' exposure is not known"
	case in.Dark == nil:
		return s, "no darks to judge the sensor by: shoot five of the subs' exposure and temperature once"
	case !in.ReadNoise.OK():
		return s, "the read noise is not known in electrons: " + in.ReadNoise.Why
	case !in.SkyRate.OK():
		return s, "the sky is not known in electrons: " + in.SkyRate.Why
	}
	s.read = in.ReadNoise.V
	own := in.Dark.Metric("dark_current_e_per_s")
	switch {
	case in.DarkRate.OK():
		s.dark = max(in.DarkRate.V, 0)
	case own.OK():
		s.dark = max(own.V, 0)
		s.notes = "dark current as measured, not carried to the subs' temperature"
	default:
		s.notes = "dark current taken as none: " + in.DarkRate.Why
	}
	// Pattern and glow are carried to the subs' temperature with the current.
	warmer := 1.0
	if own.OK() && own.V > 0 && in.DarkRate.OK() && in.DarkRate.V > 0 {
		warmer = in.DarkRate.V / own.V
	}
	if p := in.Dark.Metric("warm_nonuniformity_e_per_s"); p.OK() {
		s.pattern, s.patternErr = max(p.V, 0)*warmer, known(p.Err)*warmer
	}
	if h := in.Dark.Metric("hot_pixels"); h.OK() {
		s.hot = h.V
	}
	if in.Dark.Metric("glow_x").OK() && in.Dark.Group != nil && in.Dark.Group.Exposure > 0 {
		s.glow = in.Dark.Metric("glow_e").V / in.Dark.Group.Exposure * warmer
	}
	if math.IsNaN(s.glow) {
		s.glow = 0
	}
	if in.Dark.Dark != nil {
		for _, h := range in.Dark.Dark.Hot {
			s.hotRates = append(s.hotRates, h.Rate*warmer)
		}
	}
	return s, ""
}

// NoteBenefits puts into the summary of each camera the largest benefit that
// darks have for any group of subs that it shot.
func NoteBenefits(cameras []*calib.Set, answers []Answer) {
	for _, s := range cameras {
		if s.Summary != nil {
			benefit, label := largest(s.Summary.Mode, answers)
			s.Note("dark_benefit_pct", benefit, label)
		}
	}
}

// largest is the largest benefit for one camera's subs, and for which.
func largest(camera calib.Mode, answers []Answer) (best stats.Value, label string) {
	best = stats.Missing("no group of subs could be weighed")
	for _, w := range answers {
		if w.Camera.Same(camera) && w.BenefitPct.OK() && !(best.OK() && best.V >= w.BenefitPct.V) {
			best, label = w.BenefitPct, w.Label
		}
	}
	return best, label
}
