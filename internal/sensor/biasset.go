package sensor

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// MasterCounts are the sizes of master for which its noise is told.
var MasterCounts = []int{10, 20, 50, 100, 200, 500, 1000}

// set writes the figures down.
func (b *biasRun) set(cs *Cameras) *Set {
	s := newSet(b.group, b.why)
	if b.Series != nil {
		s.Warnings = b.Warnings
	}
	if !b.ok() {
		return s
	}
	m := cs.modeOf(b.group)
	n := len(b.Frames)
	s.Bias, s.Measured = b.detail, true
	out := s.Bias
	out.Offset = figure(b.offset, join(b.lone, planesNote(b.detail.Planes)))
	noteRN := ""
	switch {
	case !b.readNoise.OK():
	case b.Cut > stack.CutShare:
		noteRN = fmt.Sprintf("%.2g %% of the samples are cut at 0: what that takes from the noise is made up for", 100*b.Cut)
	case b.corrected:
		noteRN = fmt.Sprintf("%.4g ADU with quantisation", b.Noise.V)
	default:
		noteRN = fmt.Sprintf("an upper limit: %.2g ADU with quantisation, under half a sample step, which tells no more", b.Noise.V)
	}
	out.ReadNoiseADU = figure(b.readNoise, noteRN)
	out.ReadNoise = figure(times(b.readNoise, m.gain), join(limitNote(b.readNoise), m.gainNote()))
	out.PixelNoiseMedian = figure(b.pixel.median, "")
	out.PixelNoiseRMS = figure(b.pixel.rms, "")
	out.PixelNoiseP99 = figure(b.pixel.p99, "one pixel in a hundred is noisier; were all pixels alike, it would equal the median")
	note := ""
	if b.pixel.noisy.OK() {
		note = fmt.Sprintf("noise above %.3g ADU", b.pixel.limit)
	}
	out.NoisyPixels = figure(b.pixel.noisy, note)
	out.FixedPattern = figure(b.pattern, "")
	out.RowBanding = figure(b.row.ratio, b.row.note("rows"))
	out.ColumnBanding = figure(b.col.ratio, b.col.note("columns"))
	out.Clipped = figure(b.clipped, "samples at 0")
	out.Drift = figure(b.drift, b.tempNote())
	out.Outliers = figure(outliers(b.Series), strings.Join(outlierNames(b.Series), "; "))
	masterNoise := b.Noise
	if masterNoise.OK() {
		masterNoise = b.Noise.Scaled(1 / math.Sqrt(float64(n)))
	}
	out.MasterNoise = figure(masterNoise, b.masterNote(m))
	step := stats.Missing("too few different values")
	if b.Step > 0 {
		step = stats.Known(b.Step, 0, n)
	}
	out.SampleStep = figure(step, stepNote(b.Step))
	b.warn(s)
	return s
}

func (b *biasRun) masterNote(m *mode) string {
	if !b.Noise.OK() {
		return ""
	}
	var words []string
	b.detail.Masters = nil
	for _, n := range MasterCounts {
		v := b.Noise.V / math.Sqrt(float64(n))
		b.detail.Masters = append(b.detail.Masters, MasterNoise{n, v, v * m.gain.V})
		words = append(words, fmt.Sprintf("%d frames %.2g", n, v))
	}
	return "mean of the set's frames; of " + strings.Join(words, ", ")
}

func (b *biasRun) tempNote() string {
	if s := b.detail.TempSlope; s.OK() {
		return fmt.Sprintf("%+.3g ADU per °C of the sensor", s.V)
	}
	return ""
}

// outliers is how many frames stand off; it takes three to tell.
func outliers(r *stack.Series) stats.Value {
	if len(r.Levels) < 3 {
		return stats.Missing(fact.Plural(len(r.Levels), "frame") + ": telling which one is off needs three")
	}
	return stats.Known(float64(len(outlierNames(r))), 0, len(r.Levels))
}

func outlierNames(r *stack.Series) []string {
	var names []string
	for _, l := range r.Levels {
		if l.Outlier {
			names = append(names, fmt.Sprintf("%s (%+.1f ADU)", l.Name, l.Level-stats.Median(r.KeptLevels())))
		}
	}
	return names
}

func (b *biasRun) warn(s *Set) {
	warnTemperature(b.Series, s, "its figures are not those of a cooled sensor; shoot bias frames with the cooler on")
	if b.enough > 0 && b.clipped.V > 1e-6 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("offset too low: %.2g %% of pixels are cut at 0; raise the offset setting until the level is above %.0f ADU", 100*b.clipped.V, b.enough))
	}
	if e := b.group.Exposure; e > 1 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("these bias frames were exposed for %g s: a bias is the shortest exposure there is", stats.Significant(e, 4)))
	}
	if b.pixel.noisy.OK() && b.pixel.noisy.V > 0.02 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%.1f %% of the pixels are noisy (telegraph noise): dither and reject outliers when stacking", 100*b.pixel.noisy.V))
	}
	if d := b.drift; d.OK() && math.Abs(d.V) > 5*d.Err && math.Abs(d.V)*float64(len(b.Levels)) > stack.LevelFloor*b.noiseOr(math.Inf(1)) {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the level drifts by %+.3g ADU a frame: let the camera settle before the series", d.V))
	}
}
