package sensor

import (
	"fmt"
	"math"

	"fitsqa/internal/stats"
)

// set writes the figures of a dark set down.
func (d *darkRun) set(cs *Cameras) *Set {
	s := &Set{Label: d.group.Label(), Kind: "dark", Group: d.group, Camera: d.group.Camera}
	if d.Series != nil {
		s.Warnings = d.Warnings
	}
	if !d.ok() {
		s.missing(d.why, "dark_current_e_per_s:e-/s", "dark_current_by_noise_e_per_s:e-/s", "dark_intercept_adu:ADU", "dark_current_mean_e_per_s:e-/s", "dark_current_adu_per_s:ADU/s", "hot_pixels", "hot_fraction",
			"hot_threshold_e_per_s:e-/s", "warm_nonuniformity_e_per_s:e-/s", "glow_e:e-", "glow_x:px", "glow_y:px", "light_leak_pct:%", "temperature_offset_c:°C", "temperature_rms_c:°C")
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
	s.add("dark_current_e_per_s", times(rate, m.gain), "e-/s", join(how, m.gainNote()))
	s.add("dark_current_by_noise_e_per_s", times(byNoise, m.gain), "e-/s", "by how much noisier darks are than bias frames, whatever the offset; all pixels that are not hot")
	s.add("dark_intercept_adu", intercept, "ADU", d.interceptNote())
	s.add("dark_current_mean_e_per_s", times(mean, m.gain), "e-/s", m.gainNote())
	meanNote := ""
	if mean.OK() {
		meanNote = fmt.Sprintf("mean %.3g", mean.V)
	}
	s.add("dark_current_adu_per_s", rate, "ADU/s", join(how, meanNote))
	n := len(d.Frames)
	count := float64(len(d.hot))
	pixels := float64(d.group.Width * d.group.Height)
	hotNote := fmt.Sprintf("above %s, in most frames", d.thresholdBy)
	if n == 1 {
		hotNote = fmt.Sprintf("above %s; one frame: particle hits count too", d.thresholdBy)
	}
	if n := d.detail.ColdCount; n > 0 {
		hotNote += fmt.Sprintf("; %s as far below the median", plural(n, "pixel"))
	}
	s.add("hot_pixels", stats.Known(count, math.Sqrt(count), n), "px", hotNote)
	s.add("hot_fraction", stats.Known(count/pixels, math.Sqrt(count)/pixels, n), "", "")
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
	s.add("hot_threshold_e_per_s", times(limit, m.gain), "e-/s", "above the median; "+d.thresholdBy)
	s.add("warm_nonuniformity_e_per_s", m.atSetPoint(timed(d.nonUniform), []*darkRun{d}), "e-/s", "hot pixels left out")
	s.add("glow_e", m.atSetPoint(times(d.glow.height, m.gain), []*darkRun{d}), "e-", join(d.glow.shape, d.glow.x.Why))
	s.add("glow_x", d.glow.x, "px", "")
	s.add("glow_y", d.glow.y, "px", "")
	s.add("light_leak_pct", d.leak, "%", d.leakNote)
	d.addTemperature(s)
	s.Dark = d.detail
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

// addTemperature writes down how the sensor's temperature was held.
func (d *darkRun) addTemperature(s *Set) {
	sensor, off := d.Temps()
	switch {
	case len(off) == 0:
		s.missing("the headers do not tell both sensor and set temperature", "temperature_offset_c:°C")
	default:
		err := math.NaN() // one frame does not tell
		if n := float64(len(off)); n > 1 {
			err = math.Sqrt(stats.Variance(off) / (n - 1))
		}
		s.add("temperature_offset_c", stats.Known(stats.Mean(off), err, len(off)), "°C", "sensor minus set")
	}
	if len(sensor) < 2 {
		s.missing("sensor temperatures of two frames are needed", "temperature_rms_c:°C")
		return
	}
	rms := math.Sqrt(stats.Variance(sensor))
	s.add("temperature_rms_c", stats.Known(rms, rms/math.Sqrt(2*float64(len(sensor))), len(sensor)), "°C", "about the mean")
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

// join puts the parts of a note together.
func join(parts ...string) string {
	out := ""
	for _, p := range parts {
		switch {
		case p == "":
		case out == "":
			out = p
		default:
			out += "; " + p
		}
	}
	return out
}
