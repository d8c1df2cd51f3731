package sensor

import (
	"fmt"
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// set writes the figures of a dark set down.
func (d *darkRun) set(cs *Cameras) *Set {
	s := newSet(d.group, d.why)
	if d.Series != nil {
		s.Warnings = d.Warnings
	}
	if !d.ok() {
		return s
	}
	m := cs.modeOf(d.group)
	t := d.group.Exposure
	rate, how, byNoise, intercept := d.rates(m)
	mean := rate
	switch {
	case !d.above():
		mean = stats.Missing(nothingBelow)
	case rate.OK():
		mean.V += (d.mean - d.signal.V) / t
	}
	s.Dark, s.Measured = d.detail, true
	out := s.Dark
	out.Current = figure(times(rate, m.gain), join(how, m.gainNote()))
	out.CurrentByNoise = figure(times(byNoise, m.gain), "by how much noisier darks are than bias frames, whatever the offset; all pixels that are not hot")
	out.Intercept = figure(intercept, d.interceptNote())
	out.CurrentMean = figure(times(mean, m.gain), m.gainNote())
	meanNote := ""
	if mean.OK() {
		meanNote = fmt.Sprintf("mean %.3g", mean.V)
	}
	out.CurrentADU = figure(rate, join(how, meanNote))
	n := len(d.Frames)
	count := float64(len(d.hot))
	pixels := float64(d.group.Width * d.group.Height)
	hotNote := fmt.Sprintf("above %s, in most frames", d.thresholdBy)
	if n == 1 {
		hotNote = fmt.Sprintf("above %s; one frame: particle hits count too", d.thresholdBy)
	}
	if n := d.detail.ColdCount; n > 0 {
		hotNote += fmt.Sprintf("; %s as far below the median", fact.Plural(n, "pixel"))
	}
	out.HotPixels = figure(stats.Known(count, math.Sqrt(count), n), hotNote)
	out.HotFraction = figure(stats.Known(count/pixels, math.Sqrt(count)/pixels, n), "")
	perSecond := 1 / t
	timed := func(v stats.Value) stats.Value {
		if !(t > 0) {
			return stats.Missing("the exposure is not known")
		}
		return times(v.Scaled(perSecond), m.gain)
	}
	limit := stats.Known((d.detail.Threshold*t-d.signal.V)*perSecond, math.NaN(), n)
	if !(t > 0) {
		limit = stats.Missing("the exposure is not known")
	}
	out.HotThreshold = figure(times(limit, m.gain), "above the median; "+d.thresholdBy)
	out.Nonuniformity = figure(m.atSetPoint(timed(d.nonUniform), []*darkRun{d}), "hot pixels left out")
	out.GlowHeight = figure(m.atSetPoint(times(d.glow.height, m.gain), []*darkRun{d}), join(d.glow.shape, d.glow.x.Why))
	out.GlowX = figure(d.glow.x, "")
	out.GlowY = figure(d.glow.y, "")
	out.LightLeak = figure(d.leak, d.leakNote)
	out.TemperatureOffset, out.TemperatureScatter = d.held()
	d.warn(s)
	return s
}

// rates are the dark current in ADU/s and how it was measured, the same by the
// noise, and the level at zero exposure in ADU.
func (d *darkRun) rates(m *mode) (rate stats.Value, how string, byNoise, intercept stats.Value) {
	e := d.series
	if e == nil {
		why := stats.Missing("the exposure is not known")
		return why, "", why, why
	}
	how = e.Method
	if d.bias != nil {
		if gap := tempGap(d.group, d.bias.group); gap > 1 && gap < 1000 {
			how = join(how, fmt.Sprintf("the bias is %.0f °C off in temperature", gap))
		}
	}
	return m.atSetPoint(e.Rate, []*darkRun{d}), how, m.atSetPoint(e.ByNoise, []*darkRun{d}), e.Intercept
}

// interceptNote words what the intercept is above.
func (d *darkRun) interceptNote() string {
	switch {
	case d.series == nil:
		return ""
	case d.series.Bias:
		return "level at zero exposure above the bias: 0 where the offset kept"
	}
	return "level at zero exposure: the offset, as there is no bias"
}

// held is how the sensor's temperature was held: its offset from what was set, and
// its scatter.
func (d *darkRun) held() (offset, scatter Figure) {
	sensor, off := d.Temps()
	offset = figure(stats.Missing("the headers do not tell both sensor and set temperature"), "")
	if len(off) > 0 {
		err := math.NaN() // one frame does not tell
		if n := float64(len(off)); n > 1 {
			err = math.Sqrt(stats.Variance(off) / (n - 1))
		}
		offset = figure(stats.Known(stats.Mean(off), err, len(off)), "sensor minus set")
	}
	if len(sensor) < 2 {
		return offset, figure(stats.Missing("sensor temperatures of two frames are needed"), "")
	}
	rms := math.Sqrt(stats.Variance(sensor))
	return offset, figure(stats.Known(rms, rms/math.Sqrt(2*float64(len(sensor))), len(sensor)), "about the mean")
}

func (d *darkRun) warn(s *Set) {
	sensor, off := d.Temps()
	if len(off) > 0 && math.Abs(stats.Mean(off)) > 1 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the sensor was %+.1f °C off its set temperature: the cooler did not reach it; choose a higher one", stats.Mean(off)))
	}
	if len(sensor) > 1 && math.Sqrt(stats.Variance(sensor)) > 0.5 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the sensor's temperature moved by %.1f °C rms during the darks: wait until it is steady", math.Sqrt(stats.Variance(sensor))))
	}
	if d.leak.OK() && d.leak.V > 20 && d.leak.V > 5*d.leak.Err {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the dark signal is uneven (%.0f %%, %s): check for a light leak; cover the telescope and shoot at night", d.leak.V, d.leakNote))
	}
	switch {
	case d.biasWhy != "":
		s.Warnings = append(s.Warnings, d.biasWhy)
	case d.bias == nil:
		s.Warnings = append(s.Warnings, "no bias frames with the darks' settings: shoot twenty to tell dark current from offset")
	}
	if d.glow.shape != "" {
		s.Warnings = append(s.Warnings, fmt.Sprintf("glow in the %s, %.3g ADU above the floor", d.glow.shape, d.glow.height.V))
	}
}
