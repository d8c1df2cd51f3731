package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

func (d *darkRun) set(cs *Cameras) *Set {
	s := newSet(d.group, d.Series, d.why)
	if !s.Measured {
		return s
	}
	m := cs.modeOf(d.group)
	t := d.group.Exposure
	rate, how, byNoise, intercept := d.rates(m)
	mean := rate
	switch {
	case !d.above():
		mean = stats.Missing(NothingBelow)
	case rate.OK():
		mean.V += (d.mean - d.signal.V) / t
	}
	s.Dark = d.detail
	out := s.Dark
	current := notes(how, m.gainNote())
	switch slow := m.law.DoublingC.Why.Code == TooSlow; {
	case rate.OK() && slow:
		current = append(current, fact.Of(HardlyGrows))
	case rate.OK() && !m.law.DoublingC.OK():
		current = append(current, fact.Of(EvenLight))
	}
	out.Current = figure(times(rate, m.gain), current...)
	out.CurrentByNoise = figure(times(byNoise, m.gain), fact.Of(WhateverOffset))
	out.Intercept = figure(intercept, d.interceptNote())
	out.CurrentMean = figure(times(mean, m.gain), m.gainNote()...)
	if mean.OK() {
		how = append(how, fact.Of(MeanRate, fact.Number("adu_per_s", mean.V)))
	}
	out.CurrentADU = figure(rate, how...)
	d.setPixels(out, cs, m)
	out.GlowHeight = figure(m.atSetPoint(times(d.glow.height, m.gain), []*darkRun{d}), fact.Of(GlowPlace, fact.Detail("place", fact.Of(d.glow.place)), fact.Number("cell_px", float64(d.detail.Glow.Step))))
	out.GlowX = figure(d.glow.x, fact.Of(GlowHighest))
	out.GlowY = figure(d.glow.y, fact.Of(GlowHighest))
	out.LightLeak = figure(d.leak, d.leakNote)
	out.TemperatureOffset, out.TemperatureScatter = d.held()
	d.warn(s)
	return s
}

// setPixels writes down what pixels of their own are like: hot ones, and the rest's pattern.
func (d *darkRun) setPixels(out *Dark, cs *Cameras, m *mode) {
	n := len(d.Frames)
	hot, jump := float64(len(d.hot)), float64(d.detail.ColdCount)
	count, countErr := max(hot-jump, 0), math.Sqrt(hot+jump)
	pixels := float64(d.group.Width * d.group.Height)
	out.HotPixels = figure(stats.Known(count, countErr, n), d.hotNote(cs)...)
	out.HotFraction = figure(stats.Known(count/pixels, countErr/pixels, n))
	limit, pattern := stats.Missing(DarkExposure), stats.Missing(DarkExposure)
	if t := d.group.Exposure; t > 0 {
		perSecond := 1 / t
		limit = times(stats.Known((d.detail.Threshold*t-d.signal.V)*perSecond, math.NaN(), n), m.gain)
		pattern = times(d.nonUniform.Scaled(perSecond), m.gain)
	}
	out.HotThreshold = figure(limit, d.limitOf(cs, AboveByShot, AboveBySigma))
	out.Nonuniformity = figure(m.atSetPoint(pattern, []*darkRun{d}), fact.Of(HotLeftOut))
}

// hotNote tells from where on pixels are hot, and how many of those above are not counted.
func (d *darkRun) hotNote(cs *Cameras) []fact.Fact {
	byShot, bySigma := HotByShot, HotBySigma
	if len(d.Frames) == 1 {
		byShot, bySigma = HotOneByShot, HotOneBySigma
	}
	all := []fact.Fact{d.limitOf(cs, byShot, bySigma)}
	if n := d.detail.ColdCount; n > 0 {
		all = append(all, fact.Of(ColdPixels, fact.Count("pixels", n)))
	}
	return all
}

// limitOf tells by what pixels are hot.
func (d *darkRun) limitOf(cs *Cameras, byShot, bySigma fact.Code) fact.Fact {
	if d.hotByShot {
		return fact.Of(byShot)
	}
	return fact.Of(bySigma, fact.Number("sigma", cs.opt.HotSigma))
}

// rates are the dark current in ADU/s and how it was measured, the same by the
// noise, and the level at zero exposure in ADU.
func (d *darkRun) rates(m *mode) (rate stats.Value, how []fact.Fact, byNoise, intercept stats.Value) {
	e := d.series
	if e == nil {
		why := stats.Missing(DarkExposure)
		return why, nil, why, why
	}
	how = []fact.Fact{e.Method}
	if d.bias != nil {
		if gap := tempGap(d.group, d.bias.group); gap > 1 && gap < 1000 {
			how = append(how, fact.Of(BiasWarmer, fact.Number("gap_c", gap)))
		}
	}
	return m.atSetPoint(e.Rate, []*darkRun{d}), how, m.atSetPoint(e.ByNoise, []*darkRun{d}), e.Intercept
}

func (d *darkRun) interceptNote() fact.Fact {
	if d.series != nil && d.series.Bias {
		return fact.Of(InterceptOfBias)
	}
	return fact.Of(InterceptAlone)
}

// held is how the sensor's temperature was held: its offset from what was set, and
// its scatter.
func (d *darkRun) held() (offset, scatter Figure) {
	sensor, off := d.Temps()
	offset = figure(stats.Missing(TempsNotBoth))
	if len(off) > 0 {
		err := math.NaN() // one frame does not tell
		if n := float64(len(off)); n > 1 {
			err = math.Sqrt(stats.Variance(off) / (n - 1))
		}
		offset = figure(stats.Known(stats.Mean(off), err, len(off)), fact.Of(SensorMinusSet))
	}
	if len(sensor) < 2 {
		return offset, figure(stats.Missing(TempsOfTwo))
	}
	rms := math.Sqrt(stats.Variance(sensor))
	return offset, figure(stats.Known(rms, rms/math.Sqrt(2*float64(len(sensor))), len(sensor)), fact.Of(AboutMean))
}

func (d *darkRun) warn(s *Set) {
	sensor, off := d.Temps()
	if len(off) > 0 && math.Abs(stats.Mean(off)) > 1 {
		s.warn(DarksOffSetPoint, fact.Number("off_c", stats.Mean(off)))
	}
	if len(sensor) > 1 && math.Sqrt(stats.Variance(sensor)) > 0.5 {
		s.warn(TemperatureMoved, fact.Number("rms_c", math.Sqrt(stats.Variance(sensor))))
	}
	if d.leak.OK() && d.leak.V > 20 && d.leak.V > 5*d.leak.Err {
		s.Warnings = append(s.Warnings, d.leakWarning())
	}
	switch {
	case d.biasWhy.Code != "":
		s.warn(BiasUnfit, fact.Reason(d.biasWhy))
	case d.bias == nil:
		s.warn(NoBias)
	}
	if d.glow.place != "" {
		s.warn(GlowSeen, fact.Detail("place", fact.Of(d.glow.place)), fact.Number("height_adu", d.glow.height.V))
	}
}
