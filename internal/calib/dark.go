package calib

import (
	"fmt"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// darkRun is a dark set on its way: everything in ADU.
type darkRun struct {
	*run
	group *frames.Group
	why   string   // why nothing could be measured
	bias  *biasRun // whose master was taken off; nil for none

	mean, hits  float64     // mean dark signal, ADU; samples left out of the master
	signal      stats.Value // median dark signal above the bias, ADU
	nonUniform  stats.Value // ADU
	glow        glow
	leak        stats.Value // %
	leakNote    string
	hot         []int32
	detail      *DarkDetail
	series      *ExposureSeries // the exposures it is one of
	temperature float64         // °C, of the sensor, else as set
	thresholdBy string
}

func (d *darkRun) ok() bool { return d.why == "" && d.run.ok() }

// measure streams the set and takes every figure.
func (d *darkRun) measure(a *analysis) {
	var fs []*frames.Frame
	for _, f := range d.group.Frames {
		if !f.Meta.DarkSubtracted {
			fs = append(fs, f)
		}
	}
	if len(fs) == 0 {
		d.why = "the headers say that a dark was taken off already"
		return
	}
	r, err := a.stackSeries(fs)
	d.run = r
	switch {
	case err != nil:
		d.why = err.Error()
		return
	case len(r.frames) == 0:
		d.why = "no frame of the set can be read"
		return
	case r.constant():
		d.why = "every pixel has the same value: not a real exposure"
		return
	}
	if skipped := len(d.group.Frames) - len(fs); skipped > 0 {
		r.warnings = append(r.warnings, fmt.Sprintf("%d frames left out: their headers say that a dark was taken off already", skipped))
	}
	d.temperature = d.group.SetTemp
	if sensor, _ := r.temps(); len(sensor) > 0 {
		d.temperature = stats.Median(sensor)
	}
	d.bias = a.nearestBias(d.group)
	if d.subtracted() {
		return
	}
	m := a.combine(r)
	d.hits = float64(m.hits)
	a.masters.put(d.group, m)
	d.detail = &DarkDetail{Frames: r.levels, Noise: r.noise, Master: preview(m.pixels, d.group)}
	signal := make([]float32, len(m.pixels))
	copy(signal, m.pixels)
	var biasMaster []float32
	if d.bias != nil {
		biasMaster = a.masterOf(d.bias.group).pixels
		for i, b := range biasMaster {
			signal[i] -= b
		}
	}
	d.measureSignal(a, signal, biasMaster)
	r.stack, r.pixels = nil, nil
}

// subtracted recognises darks that a program or the camera has taken a dark
// off already: they lie far under the bias.
func (d *darkRun) subtracted() bool {
	if d.bias == nil || !d.bias.noise.OK() {
		return false
	}
	level := d.level().V
	if level < d.bias.offset.V-10*d.bias.noise.V && level < 0.5*d.bias.offset.V {
		d.why = fmt.Sprintf("the level of %.0f ADU lies under the bias's %.0f ADU: a dark was taken off already", level, d.bias.offset.V)
		return true
	}
	return false
}

// temporal is the noise that the frames leave in the dark signal's map, ADU.
func (d *darkRun) temporal(m *mode) stats.Value {
	v := d.noise // of one dark frame, shot noise included
	if !v.OK() {
		if d.bias == nil || !d.bias.noise.OK() {
			return stats.Missing("one dark and no bias pair: noise is not known")
		}
		v = d.bias.noise
		if m.gain.OK() && d.signal.OK() {
			v.V = math.Sqrt(v.V*v.V + max(d.signal.V, 0)/m.gain.V)
		}
	}
	v = v.Scaled(1 / math.Sqrt(float64(len(d.frames))))
	if d.bias != nil && d.bias.noise.OK() {
		b := d.bias.noise.V / math.Sqrt(float64(len(d.bias.frames)))
		v = stats.Known(math.Hypot(v.V, b), v.Err, v.N)
	}
	return v
}

// measureSignal takes dark current, hot pixels and the non-uniformity of the
// others from the map of dark signal in ADU.
func (d *darkRun) measureSignal(a *analysis, signal, biasMaster []float32) {
	m := a.modeOf(d.group)
	pixels := len(signal)
	n := len(d.frames)
	sigma := d.robustSigma(signal)
	centre := d.level().V
	if d.bias != nil {
		centre -= d.bias.offset.V
	}
	counts := spread(signal, centre, sigma/16, a.opt.Workers)
	if lattice := d.lattice(); lattice > sigma/200 {
		// Means of few whole numbers lie on a lattice: bins that hold now one
		// and now two of its points would shift the median.
		k := 2*math.Floor(sigma/16/lattice/2) + 1
		counts = spread(signal, lattice*math.Round(centre/lattice), k*lattice, a.opt.Workers)
	}
	median := counts.Offset + counts.Unit*counts.Quantile(0.5)
	sums := make([]float64, sumParts)
	parallelParts(pixels, a.opt.Workers, func(w, from, to int) {
		for _, v := range signal[from:to] {
			sums[w] += float64(v)
		}
	})
	d.mean = 0
	for _, s := range sums {
		d.mean += s / float64(pixels)
	}
	sampling := 1.2533 * sigma / math.Sqrt(float64(pixels))
	err := math.Hypot(sampling, d.level().Err)
	if d.bias != nil {
		err = math.Hypot(err, d.bias.offset.Err)
		if n < 3 { // the set itself does not tell how its level moves
			err = math.Hypot(err, d.bias.scatter()/math.Sqrt(float64(n)))
		}
	}
	d.signal = stats.Known(median+d.skew(median, m), err, n)

	limit, by := a.hotLimit(d, m, sigma)
	d.thresholdBy = by
	d.measureGlow(signal, sigma, a.opt.Workers)
	d.findHot(a, signal, biasMaster, median, limit, sigma)
	// Non-uniformity of the pixels that are not hot, tails included.
	lo, hi := (median-limit-counts.Offset)/counts.Unit, (median+limit-counts.Offset)/counts.Unit
	kept, _, sd := counts.Moments(int(math.Ceil(lo)), int(math.Floor(hi)))
	sd *= counts.Unit
	d.detail.Uneven = math.NaN()
	if t := d.temporal(m); !t.OK() {
		d.nonUniform = stats.Missing(t.Why)
	} else {
		all := stats.Known(sd, sd/math.Sqrt(2*float64(kept)), n)
		d.nonUniform = inQuadrature(all, t, "the non-uniformity")
		d.detail.Uneven = atMost(all, t)
		if d.nonUniform.OK() {
			d.detail.Uneven = d.nonUniform.V
		}
	}
	d.detail.Rates = Counts{counts.Trim(), counts.Unit / d.group.Exposure, counts.Offset / d.group.Exposure}
	d.detail.Signal = math.NaN()
	if d.bias != nil {
		d.detail.Signal = d.signal.V
	}
	d.detail.ColdCount = coldPixels(signal, median-limit)
}

// lattice is the distance between the values that the dark signal can take: a
// sample step over the least common multiple of the numbers of frames.
func (d *darkRun) lattice() float64 {
	n := len(d.frames)
	if d.bias != nil {
		m := len(d.bias.frames)
		a, b := n, m
		for b != 0 {
			a, b = b, a%b
		}
		n *= m / a
	}
	return max(d.step, d.unit.Step) / float64(n)
}

// robustSigma is a spread of the map from its quartiles, on a sample of it.
func (d *darkRun) robustSigma(signal []float32) float64 {
	stride := max(1, len(signal)/1_000_000)
	some := make([]float32, 0, len(signal)/stride+1)
	for i := 0; i < len(signal); i += stride {
		some = append(some, signal[i])
	}
	s := (stats.Quantile(some, 0.75) - stats.Quantile(some, 0.25)) / 1.3489795003921634
	return max(s, d.unit.Step/16) // single frames of a quiet sensor hold few values
}

// skew is by how much the median of a mean of n Poisson counts lies under the
// mean (third moment over six variances, Cornish and Fisher 1938; from
// memory), ADU. It matters for a signal of a fraction of an electron.
func (d *darkRun) skew(median float64, m *mode) float64 {
	if d.bias == nil || !m.gain.OK() || !d.bias.readNoise.OK() || !(median > 0) {
		return 0
	}
	s, rn := median*m.gain.V, d.bias.readNoise.V*m.gain.V
	return s / (6 * float64(len(d.frames)) * (s + rn*rn)) / m.gain.V
}

// scatter is how much single levels of the set move, outliers counted in, ADU.
func (r *run) scatter() float64 {
	var all []float64
	for _, l := range r.levels {
		all = append(all, l.Level)
	}
	if len(all) < 2 {
		return 0
	}
	return math.Sqrt(stats.Variance(all) * float64(len(all)) / float64(len(all)-1))
}

// offsetMoves is the largest distance of any frame's level from the median of
// its set, bias frames and darks, ADU; of the darks' own only when they are
// three or more, because then outliers among them are left out.
func (d *darkRun) offsetMoves() float64 {
	moves := 0.0
	kept := d.keptLevels()
	for _, l := range kept {
		moves = max(moves, math.Abs(l-stats.Median(kept)))
	}
	if d.bias != nil && len(kept) < 3 {
		moves = max(moves, d.bias.unstable)
	}
	return moves
}

// current is the dark signal as far as it can be claimed, ADU: an offset that
// moves more than the dark signal leaves nothing to claim.
func (d *darkRun) current() stats.Value {
	t := d.group.Exposure
	switch {
	case d.bias == nil:
		return stats.Missing("no bias frames with the same camera, gain, offset and binning")
	case !(t > 0):
		return stats.Missing("the exposure is not known")
	}
	moves := max(d.offsetMoves(), 2*d.signal.Err)
	if d.signal.V <= moves {
		return stats.Missing(fmt.Sprintf("the offset moves by %.2g ADU, more than the dark signal: no dark current can be claimed", max(moves, math.Abs(d.signal.V))))
	}
	return d.signal
}

func coldPixels(signal []float32, limit float64) int {
	n, l := 0, float32(limit)
	for _, v := range signal {
		if v < l {
			n++
		}
	}
	return n
}
