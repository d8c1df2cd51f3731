package plan

import (
	"math"

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
	e.Gap = UsualGap(g.Subs)
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
			e.Others = append(e.Others, OtherBandwidth{other, shortestExposure(e.ReadNoise.V, s, opt.ReadNoiseShare)})
		}
	}
	return e
}

// LeastAdvised is where the range begins that is advised for a camera's read noise, e-,
// under a sky, e-/s per pixel, to whom shoots the current exposure, s (NaN: none yet), with
// a gap between subs.
func LeastAdvised(readNoise, rate, current float64, gap stats.Value, opt Options) float64 {
	nan, untold := math.NaN(), stats.Missing(TrailingRare)
	e := Exposure{Current: current, ReadNoise: stats.Known(readNoise, nan, 1), Gap: gap, TrailRate: untold, Saturating: untold, From: nan, To: nan}
	e.Shortest = e.shortest(rate, opt)
	e.recommend(rate, opt)
	return e.From
}

// shortest carries the uncertainties of read noise and sky through t ∝ R²/S.
func (e *Exposure) shortest(rate float64, opt Options) stats.Value {
	t := shortestExposure(e.ReadNoise.V, rate, opt.ReadNoiseShare)
	rel := math.Hypot(2*e.ReadNoise.KnownErr()/e.ReadNoise.V, e.Sky.KnownErr()/rate)
	return stats.Known(t, t*rel, e.Sky.N)
}

// UsualGap is the median time from the end of one sub to the start of the next,
// pauses left out.
func UsualGap(of []*subs.Sub) stats.Value {
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
