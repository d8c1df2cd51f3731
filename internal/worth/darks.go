package worth

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Answer is the verdict on darks for one group of subs.
type Answer struct {
	Label       string
	Camera      sensor.Mode
	Reason      Reason      // what decided, and so the verdict; "" with Lacks or Doubt
	Darks       int         // to shoot, 0 when darks are not worth it
	Lacks       fact.Fact   // which figure is lacking; no code when none is
	Doubt       Doubt       // what the subs leave open although all was measured; "" when nothing
	DoubtE      float64     // e- a sub, the limit by which alone it is known
	Weighed     int         // how many darks BenefitPct, Gains and CostHours speak of
	BenefitPct  stats.Value // how much lower the stack's noise is with so many darks, %; negative: higher
	AtHand      int         // darks that fit the subs, or do once they are scaled
	ScaledAs    int         // darks of the subs' own exposure that do what those at hand do once they are scaled; 0 where they fit
	AtHandPct   stats.Value // what they lower the noise by, %
	Gains       []Gain      // of Weighed darks at this exposure, twice and four times it
	CostHours   float64     // of shooting Weighed darks
	Without     Case        // the stack as shot without darks
	GlowPct     stats.Value // the glow in percent of the sky there
	GlowPlace   fact.Code   // where it is, as in sensor.Dark
	MoreBias    int         // frames of a large master bias, which takes off all but the pattern
	MoreBiasPct float64     // what it lowers the noise by, %
	HotMatter   bool        // hot pixels are left that are worth a defect map
	Caveats     []Caveat
	Library     *Library // do the darks of an earlier date still fit; nil when that was not asked
	Cases       []Case
}

// Verdict on darks.
type Verdict string

// The verdicts there are.
const (
	WorthIt    Verdict = "worth it"
	DefectMap  Verdict = "a defect map is enough"
	NotWorthIt Verdict = "not worth it"
)

// Verdict follows from what decided; "" when nothing did.
func (w *Answer) Verdict() Verdict {
	switch w.Reason {
	case "":
		return ""
	case LessNoise, Glow:
		return WorthIt
	case HotPixels:
		return DefectMap
	}
	return NotWorthIt
}

// Doubt is a code for what would change the verdict and is known by its limit alone.
type Doubt string

// The doubts there are.
const (
	PatternInDoubt Doubt = "pattern"
	GlowInDoubt    Doubt = "glow"
	BenefitInDoubt Doubt = "benefit" // known no better than from nothing to worth it
)

// Reason is a code for what decided on darks.
type Reason string

// The reasons there are.
const (
	LessNoise Reason = "noise"
	Glow      Reason = "glow"
	HotPixels Reason = "hot_pixels"
	NoGain    Reason = "nothing"
	MoreBias  Reason = "more_bias" // a larger master bias does as well
)

// Gain is what the darks do at one exposure, the whole time being the same.
type Gain struct {
	Exposure   float64 // s
	BenefitPct stats.Value
}

// WorthyBenefit is the drop of the stack's noise in percent from which darks
// are worth it: 5 % is what a tenth more exposure would give.
const WorthyBenefit = 5

// darkCounts are the numbers of darks weighed. glowDarks take a glow off and
// add next to nothing elsewhere; GlowMaster are enough when the master is
// smoothed (common practice, no source). usualBias is the master bias that
// stands beside darks when none is at hand, plentyBias one that takes its noise off.
var darkCounts = []int{10, 20, 30, 50}

const (
	glowDarks  = 30
	GlowMaster = 5
	usualBias  = 20
	plentyBias = 200 // a quarter of an hour's
)

// hotShare is the share of the pixels that may stand out as hot ones before a
// defect map is worth it: two dozen in 24 megapixels (common practice, no source).
const hotShare = 1e-6

// OfDarks weighs darks for one group of subs.
func OfDarks(in Input) Answer {
	none := stats.Missing(NotWeighed)
	w := Answer{Label: in.Label, Camera: in.Camera, Library: in.Library, DoubtE: math.NaN(), MoreBiasPct: math.NaN(), BenefitPct: none, AtHandPct: none, GlowPct: none}
	s, caveats, lacks := in.sensor()
	if w.Caveats, w.Lacks = caveats, lacks; lacks.Code != "" {
		return w
	}
	in.weigh(&w, s)
	in.doubt(&w, s)
	if w.Reason == Glow && s.glow.scaled {
		w.Caveats = append(w.Caveats, GlowScaled)
	}
	return w
}

// doubt takes the verdict back where what is known by its limit alone would change it.
func (in Input) doubt(w *Answer, s figures) {
	decides := func(worse figures) bool {
		var worst Answer
		in.weigh(&worst, worse)
		return worst.Reason != w.Reason
	}
	if slices.Contains(w.Caveats, PatternLimit) {
		worse := s
		worse.pattern, worse.patternErr = s.patternErr, 0
		if decides(worse) {
			w.BenefitPct = stats.Missing(NoPattern)
			w.takeBack(PatternInDoubt, s.patternErr*in.Exposure)
			return
		}
	}
	if slices.Contains(w.Caveats, GlowUnknown) {
		worse := s
		worse.glow.rate = s.glow.err
		if decides(worse) {
			w.takeBack(GlowInDoubt, s.glow.err*in.Exposure)
			return
		}
	}
	if w.untold() && s.pattern > 0 {
		w.takeBack(BenefitInDoubt, s.patternErr*in.Exposure)
	}
}

// untold tells that the noise would decide, and what darks do to it may be nothing or worth
// it by twice its error, as far as a figure's own error is off in one case of twenty.
func (w *Answer) untold() bool {
	if w.Reason != LessNoise && w.Reason != NoGain {
		return false
	}
	lower, err := w.BenefitPct.V, 2*w.BenefitPct.KnownErr()
	return lower-err <= 0 && lower+err >= WorthyBenefit
}

// takeBack leaves the question open.
func (w *Answer) takeBack(doubt Doubt, limit float64) {
	w.Reason, w.Darks, w.Doubt, w.DoubtE = "", 0, doubt, limit
}

// AsMany is how many darks of the subs' own exposure do what those at hand do.
func (w *Answer) AsMany() int {
	if w.ScaledAs > 0 {
		return w.ScaledAs
	}
	return w.AtHand
}

// WorthTelling is the change of noise in percent under which there is none.
const WorthTelling = 0.25

// Harm tells that the darks at hand had better be left out.
func (w *Answer) Harm() bool { return w.AtHandPct.OK() && w.AtHandPct.V < -WorthTelling }

func (in Input) weigh(w *Answer, s figures) {
	l, known := in.layout(in.Subs)
	if !known {
		w.Caveats = append(w.Caveats, DitherUnknown) // the stricter case
	}
	bias := in.withoutDarks()
	t := in.Exposure
	w.Cases = in.cases(s, l)
	w.Without = s.counted(ByBias, bias, t, l)
	w.Weighed = fewestWorthy(func(m int) float64 { return s.benefit(bias, m, t, l) })
	season, _ := in.layout(in.planned())
	shows := s.glowShows(s.budget(ByBias, bias, t, season))
	w.HotMatter = w.Without.HotScatter > max(0.5, hotShare*s.pixels)
	less, more := s.benefit(bias, w.Weighed, t, l), max(bias, plentyBias)
	w.MoreBias = more
	w.MoreBiasPct = 100 * (1 - s.budget(ByBias, more, t, l).Total/s.budget(ByBias, bias, t, l).Total)
	switch {
	case less >= WorthyBenefit && s.benefit(more, w.Weighed, t, l) >= WorthyBenefit:
		w.Reason, w.Darks = LessNoise, w.Weighed
	case shows:
		w.Reason, w.Weighed, w.Darks = Glow, glowDarks, glowDarks
	case w.HotMatter:
		w.Reason, w.Weighed = HotPixels, glowDarks
	case less >= WorthyBenefit:
		w.Reason = MoreBias
	default:
		w.Reason, w.Weighed = NoGain, glowDarks
	}
	w.CostHours = float64(w.Weighed) * t / 3600
	for _, longer := range []float64{1, 2, 4} {
		n := max(1, int(math.Round(float64(in.Subs)/longer)))
		at, _ := in.layout(n)
		w.Gains = append(w.Gains, Gain{longer * t, s.benefitValue(bias, w.Weighed, longer*t, at)})
	}
	w.BenefitPct = w.Gains[0].BenefitPct
	if w.AtHand = in.darks(); w.AtHand > 0 {
		w.AtHandPct = s.benefitValue(bias, in.asMany(s), t, l)
		if !in.DarkFits {
			w.ScaledAs = in.asMany(s)
		}
	}
	if slices.Contains(w.Caveats, GlowUnknown) {
		w.GlowPct = stats.Missing(NoDarksNoGlow)
	} else if s.glow.rate > 0 && s.sky > 0 {
		w.GlowPct = stats.Known(s.ofSkyPct(), 100*s.glow.err/s.sky, 1)
	} else if s.glow.rate == 0 {
		w.GlowPct = stats.Missing(NoSetGlows)
	}
	w.GlowPlace = s.glow.place
}

// withoutDarks is how many bias frames correct the subs when darks do not: those at hand,
// else a few, which take a minute to shoot.
func (in Input) withoutDarks() int {
	if b := in.biases(); b > 0 {
		return b
	}
	return usualBias
}

// benefit is by how many percent darks lower the noise of a stack that so many bias frames
// correct.
func (s figures) benefit(bias, darks int, t float64, l layout) float64 {
	return 100 * (1 - s.budget(ByDarks, darks, t, l).Total/s.budget(ByBias, bias, t, l).Total)
}

// benefitValue is benefit with the error that the pattern's gives it.
func (s figures) benefitValue(bias, darks int, t float64, l layout) stats.Value {
	more := s
	more.pattern += s.patternErr
	v := s.benefit(bias, darks, t, l)
	return stats.Known(v, math.Abs(more.benefit(bias, darks, t, l)-v), l.n)
}

// fewestWorthy is the fewest darks that give nine tenths of what most give.
func fewestWorthy(benefit func(m int) float64) int {
	most := darkCounts[len(darkCounts)-1]
	for _, m := range darkCounts {
		if benefit(m) >= 0.9*benefit(most) {
			return m
		}
	}
	return most
}

// cases are all ways of correcting the subs, lying on each other and moved: as
// they were where they moved, else as well as can be.
func (in Input) cases(s figures, l layout) []Case {
	moved := l
	if l.share > 0.5 {
		moved = scattered(l.n)
	}
	biases := []int{usualBias}
	if b := in.biases(); b > 0 && b != usualBias {
		biases = []int{b}
	}
	darks := darkCounts
	if d := in.asMany(s); d > 0 && d < darkCounts[0] {
		darks = append([]int{d}, darks...)
	}
	var all []Case
	for _, l := range []layout{still(l.n), moved} {
		all = append(all, s.counted(ByNothing, 0, in.Exposure, l))
		for _, b := range biases {
			all = append(all, s.counted(ByBias, b, in.Exposure, l))
		}
		for _, m := range darks {
			all = append(all, s.counted(ByDarks, m, in.Exposure, l))
		}
	}
	return all
}

// BenefitFor notes for which group of subs a benefit is.
const BenefitFor fact.Code = "benefit_for" // group

// NoteBenefits puts into the summary of each camera the largest benefit that
// darks have for any group of subs that it shot.
func NoteBenefits(cameras []*sensor.Set, answers []Answer) {
	for _, s := range cameras {
		if s.Summary != nil {
			benefit, label := largest(s.Summary.Mode, answers)
			s.Summary.DarkBenefit = sensor.Figure{Value: benefit}
			if benefit.OK() {
				s.Summary.DarkBenefit.Note = []fact.Fact{fact.Of(BenefitFor, fact.Text("group", label))}
			}
		}
	}
}

// largest is the largest benefit for one camera's subs, and for which.
func largest(camera sensor.Mode, answers []Answer) (best stats.Value, label string) {
	best = stats.Missing(NoGroupWeighed)
	for _, w := range answers {
		if w.Camera.Same(camera) && w.BenefitPct.OK() && !(best.OK() && best.V >= w.BenefitPct.V) {
			best, label = w.BenefitPct, w.Label
		}
	}
	return best, label
}
