package plan

import (
	"math"
	"regexp"
	"sort"
	"strconv"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Exposure is the advice on the length of one group's subs.
type Exposure struct {
	Group          string // label
	Apart          string // as of the group
	Minor          bool   // likewise
	Stack          int    // of its subs
	Target, Filter names.Name
	Current        float64     // s
	Sky            stats.Value // e-/s per pixel, median of the good subs; N = subs
	SkyWithDark    bool        // Sky and what follows from it hold the dark current, which is not known
	OffsetMoved    float64     // ADU, by which the darks' offset lay above the subs', which is allowed for
	DarkCarried    bool        // what is taken off Sky is carried from darks of another temperature by the usual doubling
	DarkCarriedC   float64     // °C, that temperature
	SkyArcsec      stats.Value // e-/s per square arcsecond
	SkyMag         stats.Value // mag per square arcsecond, in the band of the zero point
	Bortle         sky.Bortle  // approximate; none unless SkyMag is known and the filter passes all visible light
	Dark           stats.Value // e-/s per pixel
	ReadNoise      stats.Value // e-
	ShareNow       stats.Value // fraction that read noise adds to the noise at the current exposure
	Shortest       stats.Value // s, at which it adds the fraction of the options
	Gap            stats.Value // s between subs, the usual one
	Saturating     stats.Value // s, beyond which more stars saturate than the options allow
	TrailRate      stats.Value // times per s of exposure that something trailed subs; missing when too few did to tell
	TrailedShare   stats.Value // fraction of the subs that trailed; missing when too few did to tell a rate
	Best           stats.Value // s, beyond which trailing costs more than longer subs gain; missing without a rate
	From, To       float64     // s, advised, in round numbers; NaN when unknown
	Gain           float64     // fraction of signal to noise that the same time gains at From; 0 where the current exposure is within the range, NaN when unknown
	SaturatedNow   stats.Value // fraction of the stars that saturate, median of the good subs
	Bandwidth      float64     // nm, NaN when unknown
	Others         []OtherBandwidth

	ReadNoiseShare float64 // fraction that read noise may add, of the options
	SaturatedShare float64 // fraction of the stars that may saturate, of the options
}

// Advice is a code for what to do about an exposure.
type Advice string

// The advices there are.
const (
	ExposeNew    Advice = "expose"        // there is no present exposure
	Longer       Advice = "longer"        // it gains
	Shorter      Advice = "shorter"       // trailing costs more than length gains
	ShorterWould Advice = "shorter_would" // and costs less where a sub is spoiled
	Stay         Advice = "stay"          // at the present one
)

// Advice follows from the range advised; "" where there is none.
func (e *Exposure) Advice() Advice {
	switch {
	case !e.Shortest.OK():
		return ""
	case !(e.Current > 0):
		return ExposeNew
	case e.Current < e.From*0.99:
		return Longer
	case e.Current > e.To*1.01 && e.Best.OK():
		return Shorter
	case e.Current > e.To*1.01:
		return ShorterWould
	}
	return Stay
}

// OtherBandwidth is the shortest exposure if the filter were narrower or
// wider: continuum sky scales with bandwidth, the dark current does not.
// Light pollution in single lines does not follow this.
type OtherBandwidth struct {
	BandwidthNM float64
	Shortest    float64 // s
}

// round exposures that people set (common practice, no source), s.
var roundExposures = []float64{1, 2, 3, 5, 8, 10, 15, 20, 30, 45, 60, 90, 120, 150, 180, 240, 300, 420, 480, 600, 900, 1200, 1500, 1800, 2400, 3600}

// Beyond enough times the shortest exposure there is nothing left to gain, since a
// read noise that added 5 % adds 1.3 %; and beyond enoughGaps gaps between subs
// neither, since those take less than 5 % of the time.
const (
	enough     = 4
	enoughGaps = 20
)

// broad is the bandwidth in nm from which a filter passes about what the eye sees.
const broad = 60

// nearBest is the share of the best efficiency that is as good as the best: in
// signal to noise it is 3.5 %, for which nobody changes a habit.
const nearBest = 0.93

// worthChanging is the gain in signal to noise from which to set another exposure.
const worthChanging = 0.05

func expose(g Group, opt Options) Exposure {
	nan := math.NaN()
	e := Exposure{Group: g.Label, Apart: g.Apart, Minor: g.Minor, Stack: g.Stack, Target: g.Target, Filter: g.Filter, Current: g.Exposure,
		Dark: g.Calibration.DarkRate, ReadNoise: g.Calibration.ReadNoise, From: nan, To: nan, Gain: nan,
		ReadNoiseShare: opt.ReadNoiseShare, SaturatedShare: opt.SaturatedShare}
	good := goodSubs(g.Group)
	e.Sky = skyRate(good)
	e.SkyWithDark = e.Sky.OK() && !g.Calibration.DarkTaken && !e.Dark.OK()
	w := g.Calibration.Warmth
	e.OffsetMoved = g.Calibration.OffsetMoved
	e.DarkCarried, e.DarkCarriedC = w.Carried && !g.Calibration.DarkTaken && e.Dark.OK(), w.CarriedC
	e.Bandwidth = bandwidth(opt.filter(g.Filter))
	e.brightness(g, good, opt)
	e.SaturatedNow = saturatedShare(good)
	e.Gap = usualGap(g.Subs)
	e.Saturating = saturationLimit(g, good, opt)
	e.TrailedShare, e.TrailRate = trailing(g.Group)
	e.Best = stats.Because(e.TrailedShare.Why)

	switch {
	case !e.Sky.OK():
		e.Shortest, e.ShareNow = stats.Because(e.Sky.Why), stats.Because(e.Sky.Why)
		return e
	case !e.ReadNoise.OK():
		e.Shortest, e.ShareNow = stats.Missing(ReadNoiseUnknown), stats.Missing(ReadNoiseUnknown)
		return e
	}
	dark := e.Dark.Or(0)
	rate := e.Sky.V + dark
	e.Shortest = e.shortest(rate, opt)
	e.ShareNow = stats.Missing(ExposureUnknown)
	if e.Current > 0 {
		e.ShareNow = stats.Known(noiseShare(e.ReadNoise.V, rate, e.Current), nan, e.Sky.N)
	}
	e.recommend(rate, opt)
	if !math.IsNaN(e.Bandwidth) {
		for _, other := range otherBandwidths(e.Bandwidth) {
			s := e.Sky.V*other/e.Bandwidth + dark
			e.Others = append(e.Others, OtherBandwidth{other, ShortestExposure(e.ReadNoise.V, s, opt.ReadNoiseShare)})
		}
	}
	return e
}

// shortest carries the uncertainties of read noise and sky through t ∝ R²/S.
func (e *Exposure) shortest(rate float64, opt Options) stats.Value {
	t := ShortestExposure(e.ReadNoise.V, rate, opt.ReadNoiseShare)
	rel := math.Hypot(2*e.ReadNoise.KnownErr()/e.ReadNoise.V, e.Sky.KnownErr()/rate)
	return stats.Known(t, t*rel, e.Sky.N)
}

// recommend a range in round numbers: where a sub's efficiency is near that of
// the best, gaps and trailing counted. Without trailing the best is where nothing
// is left to gain, stars permitting; but never below the shortest for their sake,
// as a few short subs make up for them.
func (e *Exposure) recommend(rate float64, opt Options) {
	longest := RoundDown(opt.MaxExposure)
	of := func(t float64) float64 {
		return efficiency(t, rate, e.ReadNoise.V, e.TrailRate.Or(0), e.Gap.Or(0))
	}
	best := math.Min(RoundUp(math.Max(enough*e.Shortest.V, enoughGaps*e.Gap.Or(0))), longest)
	if e.TrailRate.OK() {
		best = bestExposure(of, longest)
		e.Best = stats.Known(best, math.NaN(), e.TrailRate.N)
	}
	for _, t := range roundExposures {
		if t > longest || !e.TrailRate.OK() && t > best || of(t) < nearBest*of(best) {
			continue
		}
		if math.IsNaN(e.From) {
			e.From = t
		}
		e.To = t
	}
	if math.IsNaN(e.From) {
		e.From, e.To = RoundDown(best), RoundDown(best)
	}
	if e.Saturating.OK() {
		e.spareStars(of, longest)
	}
	e.keepHabit(of)
}

// spareStars ends the range where too many stars saturate, but no lower than read
// noise bears, nor where subs shorter than now lose to gaps what they spare.
func (e *Exposure) spareStars(of func(float64) float64, longest float64) {
	end := math.Max(RoundDown(e.Saturating.V), math.Min(RoundUp(e.Shortest.V), longest))
	if end < e.Current && of(end) < nearBest*of(e.Current) {
		end = e.Current
	}
	e.To = math.Min(e.To, end)
	e.From = math.Min(e.From, e.To)
}

// keepHabit widens the range to the current exposure where another gains too
// little to be set.
func (e *Exposure) keepHabit(of func(float64) float64) {
	if !(e.Current > 0) {
		return
	}
	e.Gain = 0
	if e.Current >= e.From {
		return
	}
	if e.Gain = math.Sqrt(of(e.From)/of(e.Current)) - 1; math.Sqrt(of(e.To)/of(e.Current))-1 < worthChanging {
		e.From, e.Gain = e.Current, 0
	}
}

// bestExposure is where a function of the exposure is greatest, within 1 %.
func bestExposure(of func(float64) float64, longest float64) float64 {
	best := 1.0
	for t := 1.0; t <= longest; t *= 1.01 {
		if of(t) > of(best) {
			best = t
		}
	}
	return best
}

// efficiency is the share of the time that the stack is worth, for subs of t s
// against an ideal camera: what trailing leaves when it strikes by chance at a steady
// rate per s, × what read noise leaves, × what the gaps leave.
func efficiency(t, rate, readNoise, trailing, gap float64) float64 {
	return math.Exp(-trailing*t) * rate * t / (rate*t + readNoise*readNoise) * t / (t + gap)
}

// usualGap is the median time from the end of one sub to the start of the next,
// pauses left out.
func usualGap(of []*subs.Sub) stats.Value {
	var gaps []float64
	for i, s := range of {
		if i > 0 && !s.Start.IsZero() && !of[i-1].Start.IsZero() {
			if d := s.Start.Sub(end(of[i-1])).Seconds(); d >= 0 && d <= shortestPause {
				gaps = append(gaps, d)
			}
		}
	}
	if len(gaps) == 0 {
		return stats.Missing(NoTwoInRow)
	}
	return stats.Known(stats.Median(gaps), stats.MADSigma(gaps), len(gaps))
}

// RoundUp is the next exposure that people set, s.
func RoundUp(t float64) float64 {
	i := sort.SearchFloat64s(roundExposures, t*0.999) // a hair over a round number is that number
	return roundExposures[min(i, len(roundExposures)-1)]
}

// RoundDown is the last exposure before that people set, s.
func RoundDown(t float64) float64 {
	i := sort.SearchFloat64s(roundExposures, t*1.001)
	return roundExposures[max(i-1, 0)]
}

// goodSubs are the readable ones that are kept; all that are not culled when
// fewer than 3 are.
func goodSubs(g *subs.Group) []*subs.Sub {
	var keep, usable []*subs.Sub
	for _, s := range g.Subs {
		if s.Field == nil || s.Verdict == subs.Cull {
			continue
		}
		usable = append(usable, s)
		if s.Verdict == subs.Keep {
			keep = append(keep, s)
		}
	}
	if len(keep) >= 3 {
		return keep
	}
	return usable
}

// skyRate is the sky of some subs, e-/s per pixel: their median, with their scatter for error.
func skyRate(good []*subs.Sub) stats.Value {
	var rates []float64
	why := fact.Of(NoUsableSub)
	for _, s := range good {
		if s.SkyRate.OK() && s.SkyRate.V > 0 {
			rates = append(rates, s.SkyRate.V)
		} else if s.SkyRate.Why.Code != "" {
			why = s.SkyRate.Why
		}
	}
	if len(rates) == 0 {
		return stats.Missing(SkyUnknown, fact.Reason(why))
	}
	// The spread of the subs is the night's, not an error of the median: what
	// the next sub will see is uncertain by it.
	return stats.Known(stats.Median(rates), stats.MADSigma(rates), len(rates))
}

// brightness of the sky per square arcsecond, and in magnitudes when a zero
// point is given by the user, by the header, or by the optics.
func (e *Exposure) brightness(g Group, good []*subs.Sub, opt Options) {
	scale := math.NaN()
	for _, s := range good {
		if s.PixelScale > 0 {
			scale = s.PixelScale
		}
	}
	switch {
	case !e.Sky.OK():
		e.SkyArcsec = stats.Because(e.Sky.Why)
	case math.IsNaN(scale):
		e.SkyArcsec = stats.Missing(ScaleUnknown)
	default:
		e.SkyArcsec = e.Sky.Scaled(1 / (scale * scale))
	}
	if !e.SkyArcsec.OK() {
		e.SkyMag = stats.Because(e.SkyArcsec.Why)
		return
	}
	if zp := zeroPoint(g, opt); !math.IsNaN(zp) {
		e.SkyMag = stats.Known(sky.Brightness(e.Sky.V, scale, zp), 2.5/math.Ln10*e.Sky.KnownErr()/e.Sky.V, e.Sky.N)
	} else {
		e.SkyMag = stats.Missing(NoZeroPoint)
	}
	if measured := g.Season.SkyMag; measured.N > 0 && measured.OK() { // by the field's own stars
		e.SkyMag = measured
	}
	if !e.SkyMag.OK() {
		return
	}
	if passesAll(g.Filter) && !(e.Bandwidth < broad) { // the scale is for all visible light
		e.Bortle = sky.BortleOf(e.SkyMag.V)
	}
}

// zeroPoint is the magnitude that gives 1 e-/s; NaN when nothing tells.
func zeroPoint(g Group, opt Options) float64 {
	f := opt.filter(g.Filter)
	switch width := bandwidth(f); {
	case f.ZeroPoint != 0:
		return f.ZeroPoint
	case !math.IsNaN(g.ZeroPoint) && g.Calibration.Gain.OK():
		return sky.ElectronZeroPoint(g.ZeroPoint, g.Calibration.Gain.V)
	case opt.Efficiency > 0 && g.Aperture > 0 && f.WavelengthNM > 0 && width > 0:
		return sky.Optics{Aperture: g.Aperture / 1000, Efficiency: opt.Efficiency, Bandwidth: width, Wavelength: f.WavelengthNM}.ZeroPoint()
	}
	return math.NaN()
}

var nanometres = regexp.MustCompile(`(?i)(\d+(?:[.,]\d+)?)\s*nm`)

// bandwidth in nm as the user gave it, else as the filter's name tells ("Ha 7nm"),
// else NaN.
func bandwidth(f Filter) float64 {
	if f.BandwidthNM > 0 {
		return f.BandwidthNM
	}
	if m := nanometres.FindStringSubmatch(string(f.Name)); m != nil {
		s := []byte(m[1])
		for i := range s {
			if s[i] == ',' {
				s[i] = '.'
			}
		}
		// Above 200 nm the number is a wavelength, not a width.
		if w, err := strconv.ParseFloat(string(s), 64); err == nil && w > 0 && w <= 200 {
			return w
		}
	}
	return math.NaN()
}

// otherBandwidths that are sold (common practice, no source), nm: the next
// narrower and the next wider one.
func otherBandwidths(own float64) []float64 {
	common := []float64{3, 7, 12, 100, 300}
	var list []float64
	if i := sort.SearchFloat64s(common, own/1.2); i > 0 {
		list = append(list, common[i-1])
	}
	if i := sort.SearchFloat64s(common, own*1.2); i < len(common) {
		list = append(list, common[i])
	}
	return list
}
