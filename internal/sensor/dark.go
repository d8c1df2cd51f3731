package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// outshining is by how much bias frames are noisier than darks at the least where light
// is the reason: read noises of two series differ by less.
const outshining = 1.05

func (d *darkRun) stackDarks(cs *Cameras) {
	var fs []*frames.Frame
	for _, f := range d.group.Frames {
		if !f.Meta.DarkSubtracted {
			fs = append(fs, f)
		}
	}
	if len(fs) == 0 {
		d.why = fact.Of(DarkTakenOff)
		return
	}
	r, err := cs.stacker.Stack(fs)
	d.Series = r
	if d.why = unusable(r, err); d.why.Code != "" {
		return
	}
	if skipped := len(d.group.Frames) - len(fs); skipped > 0 {
		r.Warnings = append(r.Warnings, fact.Of(SubtractedBefore, fact.Count("frames", skipped)))
	}
	d.temperature = d.group.SetTemp
	if sensor, _ := r.Temps(); len(sensor) > 0 {
		d.temperature = stats.Median(sensor)
	}
	d.bias, d.biasWhy = cs.biasFor(d.group)
	for d.bias != nil && d.outshone() {
		d.bias, d.biasWhy = cs.biasFor(d.group)
	}
	if d.subtracted() {
		return
	}
	m := r.ADU()
	d.detail = &Dark{Frames: r.Levels, Noise: r.Noise, Master: preview(m, d.group, cs.opt.Workers)}
	d.master = cs.opt.Room.Add(m)
	r.Sums, r.Pixels = nil, nil
}

// measure takes the figures of the map of dark signal: what is above the bias,
// or, without one, above darks of another exposure.
func (d *darkRun) measure(cs *Cameras) {
	if !d.ok() {
		return
	}
	signal := d.master.Copy()
	if signal == nil {
		d.why = fact.Of(DarksNotReread)
		return
	}
	d.middle = d.Level().V
	if d.bias == nil {
		c := about(signal, d.middle, d.robustSigma(signal), max(d.Step, d.Unit.Step)/float64(len(d.Frames)), cs.opt.Workers)
		d.middle = c.Offset + c.Unit*c.Quantile(0.5)
	}
	var below *stack.Plane
	d.stretch = 1
	switch d.ref = d.otherExposure(cs); {
	case d.bias != nil:
		d.ref = nil
		below = d.bias.master
		d.stretch = d.group.Exposure / d.beyondBias()
	case d.ref != nil:
		if below = d.ref.master; below != nil {
			d.stretch = d.group.Exposure / (d.group.Exposure - d.ref.group.Exposure)
		}
	}
	for at := 0; at < below.Len(); at += stack.ReadPixels { // part by part: no third plane is held
		part := signal[at:min(at+stack.ReadPixels, len(signal))]
		for i, b := range below.Strip(at, len(part)) {
			part[i] = (part[i] - b) * float32(d.stretch)
		}
	}
	d.measureSignal(cs, signal, below)
}

// beyondBias is how much longer a dark gathered dark current than its bias, s.
func (d *darkRun) beyondBias() float64 {
	if d.bias == nil {
		return d.group.Exposure
	}
	return d.group.Exposure - d.bias.group.BiasExposure()
}

// otherExposure is the set of darks of the same settings and temperature whose
// exposure differs most, by half at least; nil when there is none.
func (d *darkRun) otherExposure(cs *Cameras) *darkRun {
	var best *darkRun
	apart := 0.5
	for _, o := range cs.darks {
		if !o.ok() || !SameReadout(o.group, d.group) || math.Abs(o.temperature-d.temperature) > cs.opt.TempTolC {
			continue
		}
		t, u := d.group.Exposure, o.group.Exposure
		if gap := math.Abs(t-u) / max(t, u); gap >= apart {
			best, apart = o, gap
		}
	}
	return best
}

// outshone tells that the bias frames saw light, and sets them aside: a dark has their
// noise and its dark current's, so that they cannot be the noisier ones as well as the
// brighter ones, nor dark current of theirs be the reason.
func (d *darkRun) outshone() bool {
	b := d.bias
	if len(b.Frames) < 2 || len(d.Frames) < 2 || !b.Noise.OK() || !d.Noise.OK() || b.group.BiasExposure() > 0 || tempGap(b.group, d.group) > 5 {
		return false
	}
	above := b.offset.V - d.Level().V
	if !(b.Noise.V > outshining*d.Noise.V+5*math.Hypot(b.Noise.KnownErr(), d.Noise.KnownErr())) || !(above > d.Noise.V) {
		return false
	}
	b.why = fact.Of(BiasLit, fact.Number("above_adu", above), fact.Text("darks", d.group.Label()),
		fact.Number("noise_adu", b.Noise.V), fact.Number("darks_noise_adu", d.Noise.V))
	return true
}

// subtracted recognises darks that a program or the camera has taken a dark
// off already: they lie far under the bias.
func (d *darkRun) subtracted() bool {
	if d.bias == nil || !d.bias.Noise.OK() {
		return false
	}
	level := d.Level().V
	if level < d.bias.offset.V-10*d.bias.Noise.V && level < 0.5*d.bias.offset.V {
		d.why = fact.Of(UnderBias, fact.Number("level_adu", level), fact.Number("bias_adu", d.bias.offset.V))
		return true
	}
	return false
}

// temporal is the noise that the frames leave in the dark signal's map, ADU; beside a glow
// that of the pixels which it does not reach.
func (d *darkRun) temporal(m *mode) stats.Value {
	v := d.Noise // of one dark frame, shot noise included
	if glows := d.glow.place != "" && d.bias != nil && d.bias.Noise.OK() && m.gain.OK(); glows || !v.OK() {
		if d.bias == nil || !d.bias.Noise.OK() {
			return stats.Missing(NoNoiseOfOne)
		}
		v = d.bias.Noise
		v.Err = math.Hypot(v.KnownErr(), steadyNoise*v.V)
		if m.gain.OK() && d.signal.OK() {
			v.V = math.Sqrt(v.V*v.V + max(d.signal.V, 0)/m.gain.V)
		}
	}
	v = v.Scaled(1 / math.Sqrt(float64(len(d.Frames))))
	if d.bias != nil {
		b := d.bias.masterNoise()
		if !b.OK() {
			return stats.Missing(BiasNoiseUnknown, fact.Reason(b.Why))
		}
		v = stats.Known(math.Hypot(v.V, b.V), v.Err, v.N)
	}
	if d.ref != nil && d.ref.Noise.OK() {
		v = stats.Known(math.Hypot(v.V, d.ref.Noise.V/math.Sqrt(float64(len(d.ref.Frames)))), v.Err, v.N)
	}
	return v.Scaled(math.Abs(d.stretch))
}

// measureSignal takes dark current, hot pixels and the non-uniformity of the
// others from the map of dark signal in ADU.
func (d *darkRun) measureSignal(cs *Cameras, signal []float32, below *stack.Plane) {
	m := cs.modeOf(d.group)
	sigma := d.robustSigma(signal)
	counts := about(signal, d.levelAbove(), sigma, d.lattice(), cs.opt.Workers)
	median := counts.Offset + counts.Unit*counts.Quantile(0.5)
	d.mean = meanOf(signal, cs.opt.Workers)
	d.sampling = stats.MedianErr * sigma / math.Sqrt(float64(len(signal)))
	if d.why = d.coloured(signal, cs.opt.Workers); d.why.Code != "" {
		return
	}
	d.signal = stats.Known(median+d.skew(median, m), d.signalErr(), len(d.Frames))

	limit, byShot := cs.hotLimit(d, m, sigma)
	d.hotByShot = byShot
	d.measureGlow(signal, sigma, cs.opt.Workers)
	d.findHot(cs, signal, below, median, limit, sigma)
	d.uneven = d.meanBut(d.hot, signal) - median
	d.detail.Rates = Counts{counts.Trim(), counts.Unit / d.group.Exposure, counts.Offset / d.group.Exposure}
	switch {
	case d.glow.place != "":
		counts = d.offGlow(signal, counts)
	case d.above() && d.ramp.Reach() > 3*d.rampErr():
		counts = d.offRamp(signal, counts)
	}
	d.measureNonuniformity(m, counts, median, limit)
}

func (d *darkRun) levelAbove() float64 {
	switch level := d.Level().V; {
	case d.bias != nil:
		return (level - d.bias.offset.V) * d.stretch
	case d.ref != nil:
		return (level - d.ref.Level().V) * d.stretch
	default:
		return level
	}
}

func (d *darkRun) signalErr() float64 {
	err := math.Hypot(d.sampling, d.Level().Err)
	if d.bias == nil {
		return err
	}
	err = math.Hypot(err, d.bias.offset.Err)
	if n := len(d.Frames); n < 3 { // the set itself does not tell how its level moves
		err = math.Hypot(err, d.bias.Scatter()/math.Sqrt(float64(n)))
	}
	return err
}

// measureNonuniformity takes that of the pixels that are not hot from the counts of all,
// tails included; beside a glow, which is no pixel's own, of those that it does not reach,
// and about a gradient, which is none either.
func (d *darkRun) measureNonuniformity(m *mode, counts Counts, median, limit float64) {
	d.detail.Uneven = math.NaN()
	t := d.temporal(m)
	switch {
	case !d.above():
		d.nonUniform = stats.Missing(NothingBelow)
		return
	case !t.OK():
		d.nonUniform = stats.Because(t.Why)
		return
	}
	lo, hi := (median-limit-counts.Offset)/counts.Unit, (median+limit-counts.Offset)/counts.Unit
	kept, _, sd := counts.Moments(int(math.Ceil(lo)), int(math.Floor(hi)))
	sd *= counts.Unit
	all := stats.Known(sd, sd/math.Sqrt(2*float64(kept)), len(d.Frames))
	d.nonUniform = inQuadrature(all, t, UnevenHidden, "at_most_adu")
	d.detail.Uneven = atMost(all, t)
	if d.nonUniform.OK() {
		d.detail.Uneven = d.nonUniform.V
	}
}

// meanOf is the mean of all pixels, summed in an order that workers do not change.
func meanOf(pixels []float32, workers int) (mean float64) {
	sums := make([]float64, parallel.SumParts)
	parallel.Parts(len(pixels), workers, func(w, from, to int) {
		for _, v := range pixels[from:to] {
			sums[w] += float64(v)
		}
	})
	for _, s := range sums {
		mean += s / float64(len(pixels))
	}
	return mean
}

// meanBut is the mean of the map without some of its pixels, ADU.
func (d *darkRun) meanBut(out []int32, signal []float32) float64 {
	sum := d.mean * float64(len(signal))
	for _, i := range out {
		sum -= float64(signal[i])
	}
	return sum / float64(len(signal)-len(out))
}

// about counts a map in bins of a sixteenth of sigma around centre. Means of few
// whole numbers lie on a lattice: bins that hold now one and now two of its
// points would shift the median.
func about(pixels []float32, centre, sigma, lattice float64, workers int) Counts {
	if lattice <= sigma/200 {
		return spread(pixels, centre, sigma/16, workers)
	}
	k := 2*math.Floor(sigma/16/lattice/2) + 1
	return spread(pixels, lattice*math.Round(centre/lattice), k*lattice, workers)
}

// lattice is the distance between the values that the dark signal can take: a
// sample step over the least common multiple of the numbers of frames.
func (d *darkRun) lattice() float64 {
	n := len(d.Frames)
	if d.above() {
		m := 0
		if d.bias != nil {
			m = len(d.bias.Frames)
		} else {
			m = len(d.ref.Frames)
		}
		a, b := n, m
		for b != 0 {
			a, b = b, a%b
		}
		n *= m / a
	}
	return max(d.Step, d.Unit.Step) / float64(n) * math.Abs(d.stretch)
}

// robustSigma is a spread of the map from its quartiles, on a sample of it.
func (d *darkRun) robustSigma(signal []float32) float64 {
	stride := max(1, len(signal)/1_000_000)
	some := make([]float32, 0, len(signal)/stride+1)
	for i := 0; i < len(signal); i += stride {
		some = append(some, signal[i])
	}
	s := (stats.Quantile(some, 0.75) - stats.Quantile(some, 0.25)) / 1.3489795003921634
	return max(s, d.Unit.Step/16) // single frames of a quiet sensor hold few values
}

// skew is by how much the median of a mean of n Poisson counts lies under the
// mean (third moment over six variances, Cornish and Fisher 1938; from
// memory), ADU. It matters for a signal of a fraction of an electron.
func (d *darkRun) skew(median float64, m *mode) float64 {
	if d.bias == nil || !m.gain.OK() || !d.bias.readNoise.OK() || !(median > 0) {
		return 0
	}
	s, rn := median*m.gain.V, d.bias.readNoise.V*m.gain.V
	return s / (6 * float64(len(d.Frames)) * (s + rn*rn)) / m.gain.V
}

// offsetMoves is the largest distance of any frame's level from the median of
// its set, bias frames and darks, ADU; of the darks' own only when they are
// three or more, because then outliers among them are left out.
func (d *darkRun) offsetMoves() float64 {
	moves := 0.0
	kept := d.KeptLevels()
	for _, l := range kept {
		moves = max(moves, math.Abs(l-stats.Median(kept)))
	}
	if d.bias != nil && len(kept) < 3 {
		moves = max(moves, d.bias.unstable)
	}
	return moves
}
