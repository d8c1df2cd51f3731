package calib

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// run is a measured series of equal frames: the part that bias, dark and flat share.
type run struct {
	frames   []*frames.Frame // read and kept
	levels   []FrameLevel    // all that were read, outliers too, ADU
	stack    *stats.Stack    // dropped once the set is measured
	pixels   []float32       // mean of every pixel, single outliers left out, in unit; becomes the master
	hits     int             // samples left out
	tally    *pixelTally     // single-pixel noise; nil under noiseFrames frames
	unit     scale
	first    stats.Clipped // level of the first frame, in unit
	noise    stats.Value   // temporal noise of one frame, ADU, quantisation included
	cut      float64       // share of the samples at zero
	step     float64       // sample step, ADU
	warnings []string
}

// stackSeries streams a series into a stack, twice when frames stand out by
// their level: the second time without them.
func (a *analysis) stackSeries(fs []*frames.Frame) (*run, error) {
	r, err := a.stackOnce(fs)
	if err != nil || len(r.frames) == 0 {
		return r, err
	}
	if r, err = a.withoutImpostors(r); err != nil {
		return r, err
	}
	keep := r.frames[:0:0]
	out := map[*frames.Frame]bool{}
	var names []string
	for i, l := range r.levels {
		if l.Outlier {
			out[r.frames[i]] = true
			names = append(names, l.Name)
		} else {
			keep = append(keep, r.frames[i])
		}
	}
	if len(out) == 0 {
		return r, nil
	}
	levels := r.levels
	failed := r.warnings
	if r, err = a.stackOnce(keep); err != nil {
		return r, err
	}
	r.levels, r.warnings = levels, failed
	r.warnings = append(r.warnings, fmt.Sprintf("%s: the level is off the others'; left out of the master and the figures. Throw away the first frames of a series, and check for stray light", strings.Join(names, ", ")))
	return r, nil
}

// stackOnce streams a series: strip by strip where the files allow it, else
// frame by frame.
func (a *analysis) stackOnce(fs []*frames.Frame) (*run, error) {
	r := &run{}
	done, err := a.stackStrips(r, fs, nil)
	if err == nil && !done {
		err = a.stackFrames(r, fs)
	}
	if err != nil || len(r.frames) == 0 {
		return r, err
	}
	r.first = r.stack.First
	r.step = float64(r.stack.Samples.Step()) * r.unit.Step
	r.noise = r.pairNoise()
	r.mendCut()
	if r.pixels == nil {
		r.finish(a.opt.Workers)
	}
	r.rateLevels()
	return r, nil
}

// stackFrames streams whole frames. It takes any file, and leaves out those
// that cannot be read.
func (a *analysis) stackFrames(r *run, fs []*frames.Frame) error {
	if err := a.roomForWhole(fs); err != nil {
		return err
	}
	st := stats.NewStack(fs[0].Image.Width, fs[0].Image.Height)
	unit, failed, err := a.series(a.ctx, fs, func(_ scale, before *sample, batch []*sample) {
		var x []uint16
		if before != nil {
			x = before.x
		}
		var samples [][]uint16
		for _, s := range batch {
			r.frames = append(r.frames, s.frame)
			samples = append(samples, s.x)
		}
		st.Add(x, samples, a.opt.Workers)
	})
	for _, f := range failed {
		r.warnings = append(r.warnings, "left out, cannot be read: "+f)
	}
	r.stack, r.unit = st, unit
	return err
}

// roomForWhole tells by an error where sums of whole frames would take more memory
// than a set may.
func (a *analysis) roomForWhole(fs []*frames.Frame) error {
	if need := wholeBytes(fs); a.opt.Memory > 0 && need > a.opt.Memory {
		return fmt.Errorf("stacking frames this large and not of plain 16 bits takes %d MiB, more than --memory allows", need>>20)
	}
	return nil
}

// finish makes mean and noise of every pixel from the sums of whole frames.
func (r *run) finish(workers int) {
	st := r.stack
	all := st.Pixels()
	r.pixels = make([]float32, all.Len())
	f := newFinisher(r.pixels, st.Width, st.RowStep(), st.Frames, r.noise.V/r.unit.Step, workers)
	parallelRanges(st.Height, len(f.parts), func(w, from, to int) {
		f.strip(w, from, all.Slice(from*st.Width, to*st.Width))
	})
	f.into(r)
}

// ok tells whether anything was measured.
func (r *run) ok() bool { return r != nil && len(r.frames) > 0 }

// pairNoise is the temporal noise of one frame: the clipped spread of the
// differences of adjacent frames over sqrt 2, pooled over the pairs. Fixed
// pattern cancels in the difference (EMVA 1288 release 3.1, two-image
// variance; from memory).
func (r *run) pairNoise() stats.Value {
	if r.stack.Frames < 2 {
		return stats.Missing("one frame: noise needs two")
	}
	var sum, n, pixels float64
	var each []float64
	for _, p := range r.stack.Pairs {
		if p.SD > 0 {
			sum += p.SD * p.SD * float64(p.N)
			n += float64(p.N)
			pixels = float64(p.N)
			each = append(each, p.SD)
		}
	}
	if len(each) == 0 {
		return stats.Missing(noDifference)
	}
	v := math.Sqrt(sum / n / 2)
	// Adjacent pairs share frames: the variance from successive differences of
	// k frames scatters by (3k-4)/(k-1)² sigma⁴ (von Neumann et al. 1941, Annals
	// of Mathematical Statistics 12, 153; from memory). Where pairs differ among
	// themselves by more, their scatter counts.
	k := float64(len(each) + 1)
	rel := math.Sqrt((3*k-4)/pixels) / (k - 1) / 2
	err := v * rel
	if len(each) >= 3 {
		err = max(err, math.Sqrt(stats.Variance(each)/2/(k-1)))
	}
	return stats.Known(v*r.unit.Step, err*r.unit.Step, r.stack.Frames)
}

// cutShare is the share of samples at zero from which on pairs show too little
// noise: what is cut off does not differ.
const cutShare = 0.01

// cutErr is how well the noise of cut frames is known, as a share: what pixels
// that are not all alike leave in simulated frames.
const cutErr = 0.02

// mendCut makes up for what the cut at zero takes from the noise. Of a Gaussian
// whose share p is cut the mean lies z = -Φ⁻¹(p) sigma above the cut, and the
// variance of what is left, with all that is cut at 0, is m2 - m1² where
// m1 = z Φ(z) + φ(z) and m2 = (z²+1) Φ(z) + z φ(z) (moments of the censored
// normal distribution; derived). The pixels' pattern is taken to be less than the
// noise.
func (r *run) mendCut() {
	h := r.stack.Samples
	floor := max(0, int(math.Ceil(-r.unit.Zero/r.unit.Step))) // the number that stands for 0 ADU
	if at := floor - h.Min; at < 0 || at >= len(h.Counts) || h.Trim().Min < floor {
		return // no sample at 0, or some below: nothing is cut there
	}
	at := float64(h.Counts[floor-h.Min])
	n := float64(h.N())
	r.cut = at / n
	if r.cut < cutShare || r.cut > 0.7 || !r.noise.OK() {
		return
	}
	normal := distuv.UnitNormal
	half := -normal.Quantile(r.cut) // samples at 0 are those under half a step
	sigma := r.noise.V
	for range 5 {
		z := half + r.unit.Step*max(1, float64(h.Step()))/2/sigma
		m1 := z*normal.CDF(z) + normal.Prob(z)
		m2 := (z*z+1)*normal.CDF(z) + z*normal.Prob(z)
		sigma = r.noise.V / math.Sqrt(m2-m1*m1)
	}
	r.noise = stats.Known(sigma, math.Hypot(r.noise.Err*sigma/r.noise.V, cutErr*sigma), r.noise.N)
}

// levelClip is how far a frame's level may be off the median of its series, in
// robust sigma of the levels; and levelFloor, in read noises, is what never
// matters: an offset so small drowns in the noise of a pixel.
const (
	levelClip  = 6
	levelFloor = 0.2
)

// rateLevels notes the level of each frame and which of them stand out.
func (r *run) rateLevels() {
	levels := r.stack.Levels()
	for i, f := range r.frames {
		levels[i] = r.unit.Zero + r.unit.Step*levels[i]
		r.levels = append(r.levels, FrameLevel{Name: f.Name, Start: f.Meta.Start, TempC: f.Meta.SensorTemp, Level: levels[i]})
	}
	if len(levels) < 3 || !r.noise.OK() {
		return // two levels that differ do not say which of them is wrong
	}
	median := stats.Median(levels)
	limit := max(levelClip*stats.MADSigma(levels), levelFloor*r.noise.V)
	for i, l := range levels {
		r.levels[i].Outlier = math.Abs(l-median) > limit
	}
}

// level is the mean level of the kept frames in ADU. Its uncertainty is the
// scatter of the frames' levels; one frame's moves as offsets usually do.
func (r *run) level() stats.Value {
	kept := r.keptLevels()
	v := stats.Mean(kept)
	err := r.first.SD * r.unit.Step / math.Sqrt(float64(r.first.N))
	if n := float64(len(kept)); n > 1 {
		err = max(err/math.Sqrt(n), math.Sqrt(stats.Variance(kept)/(n-1)))
	} else {
		err = math.Hypot(err, wanderShare*r.first.SD*r.unit.Step)
	}
	return stats.Known(v, err, len(kept))
}

// keptOrNone is keptLevels, also of a series that could not be read.
func (r *run) keptOrNone() []float64 {
	if !r.ok() {
		return nil
	}
	return r.keptLevels()
}

func (r *run) keptLevels() []float64 {
	var kept []float64
	for _, l := range r.levels {
		if !l.Outlier {
			kept = append(kept, l.Level)
		}
	}
	return kept
}

// constant tells that every pixel of the first frame has one value.
func (r *run) constant() bool {
	h := r.stack.Samples.Trim()
	return len(h.Counts) == 1
}

// temps are the known sensor temperatures of the kept frames.
func (r *run) temps() (sensor, offSet []float64) {
	for _, f := range r.frames {
		if !math.IsNaN(f.Meta.SensorTemp) {
			sensor = append(sensor, f.Meta.SensorTemp)
			if !math.IsNaN(f.Meta.SetTemp) {
				offSet = append(offSet, f.Meta.SensorTemp-f.Meta.SetTemp)
			}
		}
	}
	return sensor, offSet
}
