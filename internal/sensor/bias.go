package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// unusable is why a series tells nothing; no code where it does.
func unusable(r *stack.Series, err error) fact.Fact {
	switch {
	case err != nil:
		return fact.Of(Unstackable, fact.Text("error", err.Error()))
	case len(r.Frames) == 0:
		return fact.Of(NoneRead)
	case r.Constant():
		return fact.Of(ConstantFrames)
	}
	return r.TwoKinds()
}

// measure streams the set and takes every figure that needs no gain.
func (b *biasRun) measure(cs *Cameras) {
	r, err := cs.stacker.Stack(b.group.Frames)
	b.Series = r
	if b.why = unusable(r, err); b.why.Code != "" {
		return
	}
	b.offset = r.Level()
	b.readNoise, b.corrected = analogue(r.Noise, r.Step)
	b.pixel = measurePixelNoise(r)
	b.measureClipping()
	b.measureDrift()

	m := r.ADU()
	b.master = cs.opt.Room.Add(m)
	const every = 4 // a plane through so many cells is known to a thousandth of the noise all the same
	b.ramp = coarse(m, b.group.Width, every, cs.opt.Workers).FitPlane().Reach()
	b.measurePattern(m, cs.opt.Workers)
	b.detail = &Bias{
		Frames: r.Levels, RawNoise: r.Noise, PixelNoise: b.pixel.counts,
		Diff:      Counts{r.Sums.Diff.Trim(), r.Unit.Step, 0},
		TempSlope: b.tempSlope(),
		Planes:    planeLevels(b.Frames[0].Meta, m, b.group.Width, cs.opt.Workers),
		Master:    preview(m, b.group, cs.opt.Workers),
	}
	for _, p := range r.Sums.Pairs {
		b.detail.Pairs = append(b.detail.Pairs, p.SD/math.Sqrt2*r.Unit.Step)
	}
	width := r.Sums.Width
	limit := 5 * max(b.Noise.Or(1), b.pattern.V)
	if math.IsNaN(limit) {
		limit = 5 * b.Noise.Or(1)
	}
	rows, cols := profiles(m, width, b.offset.V, limit, cs.opt.Workers)
	n := r.Sums.Frames
	b.row = measureBanding(r.RowDiffs(16), rows, r.Sums.Width, n, r.Noise)
	b.col = measureBanding(r.ColDiffs(), cols, r.Sums.Height, n, r.Noise)
	r.Sums, r.Pixels = nil, nil
}

// measurePattern is the fixed pattern of the master: its spread, without what
// temporal noise leaves in it (EMVA 1288 release 3.1, spatial variance; from memory).
func (b *biasRun) measurePattern(m []float32, workers int) {
	if !b.Noise.OK() {
		b.pattern = stats.Because(b.Noise.Why)
		return
	}
	n := math.Sqrt(float64(b.Sums.Frames))
	// Of a large frame the rows that a stack counts: a spread needs no more.
	c := spreadOfRows(m, b.Sums.Width, b.Sums.RowStep(), b.offset.V, b.Noise.V/n/32, workers).Clip()
	b.pattern = inQuadrature(
		stats.Known(c.SD, c.SD/math.Sqrt(2*float64(c.N)), b.Sums.Frames),
		stats.Known(b.Noise.V/n, b.Noise.Err/n, b.Sums.Frames), PatternHidden, "at_most_adu")
	// A sample that was left out for its whole frame's level moves its pixel's mean.
	if out := float64(b.Hits) / float64(len(m)); b.pattern.OK() && out > oftenOut {
		moved := stack.RejectSigma * b.Noise.V * math.Sqrt(out) / float64(b.Sums.Frames)
		b.pattern.Err = math.Hypot(b.pattern.Err, b.pattern.V-math.Sqrt(max(0, b.pattern.V*b.pattern.V-moved*moved)))
	}
}

// oftenOut is the share of pixels with a sample left out above which particle hits are not
// the reason.
const oftenOut = 0.01

// clearance is how many sigma of read noise and fixed pattern the offset must
// lie above zero so that practically no sample is cut: six leave one in 10⁹.
const clearance = 6

func (b *biasRun) measureClipping() {
	h := b.Sums.Samples
	n := float64(h.N())
	floor := max(0, int(math.Ceil(-b.Unit.Zero/b.Unit.Step))) // the number that stands for 0 ADU
	var cut float64
	for i := 0; i <= floor && i < len(h.Counts); i++ {
		cut += float64(h.Counts[i])
	}
	f := cut / n
	b.clipped = stats.Known(f, math.Sqrt(f*(1-f)/n), b.Sums.Frames)
	sd := h.SigmaClip(5).SD * b.Unit.Step // noise and pattern together
	if level := clearance * sd; b.offset.V < level && f > 0 {
		b.enough = level
	}
}

// measureDrift fits a line through the levels of the series.
func (b *biasRun) measureDrift() {
	var at, level []float64
	for i, l := range b.Levels {
		if !l.Outlier {
			at = append(at, float64(i))
			level = append(level, l.Level)
		}
	}
	median := stats.Median(level)
	for _, l := range b.Levels {
		b.unstable = max(b.unstable, math.Abs(l.Level-median))
	}
	if len(at) < 3 {
		b.drift = stats.Missing(DriftNeeds, fact.Count("frames", len(at)))
		return
	}
	if line, err := stats.FitLine(at, level, nil); err == nil {
		b.drift = stats.Known(line.B, line.ErrB, len(at))
	}
}

// tempSlope is level against sensor temperature, where that moved by a degree at least.
func (b *biasRun) tempSlope() stats.Value {
	var t, level []float64
	for _, l := range b.Levels {
		if !l.Outlier && !math.IsNaN(l.TempC) {
			t = append(t, l.TempC)
			level = append(level, l.Level)
		}
	}
	if len(t) < 3 {
		return stats.Missing(TempsOfThree)
	}
	if span := spanOf(t); span < 1 {
		return stats.Missing(TempSteady, fact.Number("span_c", span))
	}
	line, err := stats.FitLine(t, level, nil)
	if err != nil {
		return stats.Missing(OneAbscissa)
	}
	return stats.Known(line.B, line.ErrB, len(t))
}
