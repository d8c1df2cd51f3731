package sensor

import (
	"fmt"
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// MasterCounts are the sizes of master for which its noise is given.
var MasterCounts = []int{10, 20, 50, 100, 200, 500, 1000}

// set writes the figures down.
func (b *biasRun) set(cs *Cameras) *Set {
	s := newSet(b.group, b.Series, b.why)
	if !s.Measured {
		return s
	}
	m := cs.modeOf(b.group)
	n := len(b.Frames)
	s.Bias = b.detail
	out := s.Bias
	out.Offset = figure(b.offset, notes(b.lone, planesNote(b.detail.Planes))...)
	var noteRN fact.Fact
	switch {
	case !b.readNoise.OK():
	case b.Cut > stack.CutShare:
		noteRN = fact.Of(CutMadeUp, fact.Number("cut_pct", 100*b.Cut))
	case b.corrected:
		noteRN = fact.Of(WithSteps, fact.Number("adu", b.Noise.V))
	default:
		noteRN = fact.Of(StepsHide, fact.Number("adu", b.Noise.V))
	}
	out.ReadNoiseADU = figure(b.readNoise, noteRN)
	out.ReadNoise = figure(times(b.readNoise, m.gain), notes(limitNote(b.readNoise), m.gainNote())...)
	out.PixelNoiseMedian = figure(b.pixel.median)
	out.PixelNoiseRMS = figure(b.pixel.rms)
	out.PixelNoiseP99 = figure(b.pixel.p99, fact.Of(OnePixelIn100))
	out.NoisyPixels = figure(b.pixel.noisy, fact.Of(NoisyAbove, fact.Number("adu", b.pixel.limit)))
	out.FixedPattern = figure(b.pattern)
	out.RowBanding = figure(b.row.ratio, b.row.note("rows"))
	out.ColumnBanding = figure(b.col.ratio, b.col.note("columns"))
	out.Clipped = figure(b.clipped, fact.Of(SamplesAtZero))
	out.Drift = figure(b.drift, b.tempNote()...)
	out.Outliers = figure(outliers(b.Series), outlierNotes(b.Series)...)
	out.MasterNoise = figure(b.Noise.Scaled(1/math.Sqrt(float64(n))), b.masterNote(m)...)
	step := stats.Missing(FewValues)
	if b.Step > 0 {
		step = stats.Known(b.Step, 0, n)
	}
	out.SampleStep = figure(step, stepNote(b.Step)...)
	b.warn(s)
	return s
}

func (b *biasRun) masterNote(m *mode) []fact.Fact {
	if !b.Noise.OK() {
		return nil
	}
	var each []fact.Value
	b.detail.Masters = nil
	for _, n := range MasterCounts {
		v := b.Noise.V / math.Sqrt(float64(n))
		b.detail.Masters = append(b.detail.Masters, MasterNoise{n, v, v * m.gain.V})
		each = append(each, fact.Number(fmt.Sprintf("adu_%d", n), v))
	}
	return []fact.Fact{fact.Of(MasterNoiseAt, each...)}
}

func (b *biasRun) tempNote() []fact.Fact {
	if s := b.detail.TempSlope; s.OK() {
		return []fact.Fact{fact.Of(OffsetByTemp, fact.Number("adu_per_c", s.V))}
	}
	return nil
}

// outliers is how many frames stand off; it takes three to tell.
func outliers(r *stack.Series) stats.Value {
	if len(r.Levels) < 3 {
		return stats.Missing(OutliersNeed, fact.Count("frames", len(r.Levels)))
	}
	return stats.Known(float64(len(outlierNotes(r))), 0, len(r.Levels))
}

func outlierNotes(r *stack.Series) []fact.Fact {
	var all []fact.Fact
	for _, l := range r.Levels {
		if l.Outlier {
			all = append(all, fact.Of(OutlierFrame, fact.Text("file", l.Name), fact.Number("off_adu", l.Level-stats.Median(r.KeptLevels()))))
		}
	}
	return all
}

func (b *biasRun) warn(s *Set) {
	s.warnTemperature(b.Series, BiasOffSetPoint)
	if b.enough > 0 && b.clipped.V > 1e-6 {
		s.warn(OffsetLow, fact.Number("cut_pct", 100*b.clipped.V), fact.Number("enough_adu", b.enough))
	}
	if e := b.group.Exposure; e > 1 || b.darkShare > 0.02 {
		s.warn(BiasExposed, fact.Number("exposure_s", stats.Significant(e, 4)))
	}
	if b.pixel.noisy.OK() && b.pixel.noisy.V > 0.02 {
		s.warn(TelegraphNoise, fact.Number("noisy_pct", 100*b.pixel.noisy.V))
	}
	if d := b.drift; d.OK() && math.Abs(d.V) > 5*d.Err && math.Abs(d.V)*float64(len(b.Levels)) > stack.LevelFloor*b.Noise.Or(math.Inf(1)) {
		s.warn(LevelDrifts, fact.Number("adu_per_frame", d.V))
	}
}
