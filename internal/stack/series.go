package stack

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// FrameLevel is one frame of a series: how high it sits, against time and temperature.
type FrameLevel struct {
	Name    string
	Start   time.Time // UTC; zero when unknown
	TempC   float64   // sensor, °C; NaN when unknown
	Level   float64   // ADU, clipped mean; for flats above the offset
	Outlier bool      // left out of the master and of every figure
}

// Series is a measured series of equal frames: the part that bias, dark and flat share.
type Series struct {
	Frames   []*frames.Frame // read and kept
	Levels   []FrameLevel    // all that were read, outliers too, ADU
	Sums     *stats.Stack    // dropped once the set is measured
	Pixels   []float32       // mean of every pixel, single outliers left out, in unit; becomes the master
	Hits     int             // samples left out
	Tally    *pixelTally     // single-pixel noise; nil under NoiseFrames frames
	Unit     Scale
	first    stats.Clipped // level of the first frame, in unit
	Noise    stats.Value   // temporal noise of one frame, ADU, quantisation included
	Cut      float64       // share of the samples at zero
	Step     float64       // sample step, ADU
	Warnings []fact.Fact
}

// ADU brings the mean of every pixel to ADU, once and in place.
func (r *Series) ADU() []float32 {
	if r.Unit != Whole {
		for i, v := range r.Pixels {
			r.Pixels[i] = float32(r.Unit.Zero + r.Unit.Step*float64(v))
		}
	}
	return r.Pixels
}

// OK tells whether anything was measured.
func (r *Series) OK() bool { return r != nil && len(r.Frames) > 0 }

// PairNoise is the temporal noise of one frame: the clipped spread of the
// differences of adjacent frames over sqrt 2, pooled over the pairs. Fixed
// pattern cancels in the difference (EMVA 1288 release 3.1, two-image
// variance; from memory).
func (r *Series) PairNoise() stats.Value {
	if r.Sums.Frames < 2 {
		return stats.Missing(OneFrame)
	}
	var sum, n, pixels float64
	var each []float64
	for _, p := range r.Sums.Pairs {
		if p.SD > 0 {
			sum += p.SD * p.SD * float64(p.N)
			n += float64(p.N)
			pixels = float64(p.N)
			each = append(each, p.SD)
		}
	}
	if len(each) == 0 {
		return stats.Missing(NoDifference)
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
	return stats.Known(v*r.Unit.Step, err*r.Unit.Step, r.Sums.Frames)
}

// CutShare is the share of samples at zero from which on pairs show too little
// noise: what is cut off does not differ.
const CutShare = 0.01

// cutErr is how well the noise of cut frames is known, as a share: what pixels
// that are not all alike leave in simulated frames.
const cutErr = 0.02

// mendCut makes up for what the cut at zero takes from the noise. Of a Gaussian
// whose share p is cut the mean lies z = -Φ⁻¹(p) sigma above the cut, and the
// variance of what is left, with all that is cut at 0, is m2 - m1² where
// m1 = z Φ(z) + φ(z) and m2 = (z²+1) Φ(z) + z φ(z) (moments of the censored
// normal distribution; derived). The pixels' pattern is taken to be less than the
// noise.
func (r *Series) mendCut() {
	h := r.Sums.Samples
	floor := max(0, int(math.Ceil(-r.Unit.Zero/r.Unit.Step))) // the number that stands for 0 ADU
	if at := floor - h.Min; at < 0 || at >= len(h.Counts) || h.Trim().Min < floor {
		return // no sample at 0, or some below: nothing is cut there
	}
	at := float64(h.Counts[floor-h.Min])
	n := float64(h.N())
	r.Cut = at / n
	if r.Cut < CutShare || r.Cut > 0.7 || !r.Noise.OK() {
		return
	}
	normal := distuv.UnitNormal
	half := -normal.Quantile(r.Cut) // samples at 0 are those under half a step
	sigma := r.Noise.V
	for range 5 {
		z := half + r.Unit.Step*max(1, float64(h.Step()))/2/sigma
		m1 := z*normal.CDF(z) + normal.Prob(z)
		m2 := (z*z+1)*normal.CDF(z) + z*normal.Prob(z)
		sigma = r.Noise.V / math.Sqrt(m2-m1*m1)
	}
	r.Noise = stats.Known(sigma, math.Hypot(r.Noise.Err*sigma/r.Noise.V, cutErr*sigma), r.Noise.N)
}

// levelClip is how far a frame's level may be off the median of its series, in
// robust sigma of the levels; and LevelFloor, in read noises, is what never
// matters: an offset so small drowns in the noise of a pixel.
const (
	levelClip  = 6
	LevelFloor = 0.2
)

func (r *Series) rateLevels() {
	levels := r.Sums.Levels()
	for i, f := range r.Frames {
		levels[i] = r.Unit.Zero + r.Unit.Step*levels[i]
		r.Levels = append(r.Levels, FrameLevel{Name: f.Name, Start: f.Meta.Start, TempC: f.Meta.SensorTemp, Level: levels[i]})
	}
	if len(levels) < 3 || !r.Noise.OK() {
		return // two levels that differ do not say which of them is wrong
	}
	median := stats.Median(levels)
	limit := max(levelClip*stats.MADSigma(levels), LevelFloor*r.Noise.V)
	for i, l := range levels {
		r.Levels[i].Outlier = math.Abs(l-median) > limit
	}
}

// WanderShare is by how much of the read noise an offset is taken to wander from
// series to series where nothing shows it: common practice, no source.
const WanderShare = 0.1

// Level is the mean level of the kept frames in ADU. Its uncertainty is the
// scatter of the frames' levels; one frame's moves as offsets usually do.
func (r *Series) Level() stats.Value {
	kept := r.KeptLevels()
	v := stats.Mean(kept)
	err := r.first.SD * r.Unit.Step / math.Sqrt(float64(r.first.N))
	if n := float64(len(kept)); n > 1 {
		err = max(err/math.Sqrt(n), math.Sqrt(stats.Variance(kept)/(n-1)))
	} else {
		err = math.Hypot(err, WanderShare*r.first.SD*r.Unit.Step)
	}
	return stats.Known(v, err, len(kept))
}

// Scatter is how much single levels of the set move, outliers counted in, ADU.
func (r *Series) Scatter() float64 {
	var all []float64
	for _, l := range r.Levels {
		all = append(all, l.Level)
	}
	if len(all) < 2 {
		return 0
	}
	return math.Sqrt(stats.Variance(all) * float64(len(all)) / float64(len(all)-1))
}

// KeptOrNone is KeptLevels, also of a series that could not be read.
func (r *Series) KeptOrNone() []float64 {
	if !r.OK() {
		return nil
	}
	return r.KeptLevels()
}

// KeptLevels are the levels of the frames that are in the mean, ADU, in their order.
func (r *Series) KeptLevels() []float64 {
	var kept []float64
	for _, l := range r.Levels {
		if !l.Outlier {
			kept = append(kept, l.Level)
		}
	}
	return kept
}

// Constant tells that every pixel of the first frame has one value.
func (r *Series) Constant() bool {
	h := r.Sums.Samples.Trim()
	return len(h.Counts) == 1
}

// Temps are the known sensor temperatures of the kept frames.
func (r *Series) Temps() (sensor, offSet []float64) {
	for _, f := range r.Frames {
		if !math.IsNaN(f.Meta.SensorTemp) {
			sensor = append(sensor, f.Meta.SensorTemp)
			if !math.IsNaN(f.Meta.SetTemp) {
				offSet = append(offSet, f.Meta.SensorTemp-f.Meta.SetTemp)
			}
		}
	}
	return sensor, offSet
}

// RowDiffs are the row means of the differences of adjacent frames, at most max pairs.
func (r *Series) RowDiffs(limit int) [][]float64 {
	var out [][]float64
	for f := 1; f < len(r.Sums.RowMeans) && len(out) < limit; f++ {
		d := make([]float64, r.Sums.Height)
		for y := range d {
			d[y] = float64(r.Sums.RowMeans[f][y]-r.Sums.RowMeans[f-1][y]) * r.Unit.Step
		}
		out = append(out, d)
	}
	return out
}

// ColDiffs are the same of columns, as far as they were kept.
func (r *Series) ColDiffs() [][]float64 {
	var out [][]float64
	for _, c := range r.Sums.ColDiffs {
		d := make([]float64, len(c))
		for x := range d {
			d[x] = float64(c[x]) * r.Unit.Step
		}
		out = append(out, d)
	}
	return out
}

type pixelTally struct {
	Noise     *stats.Histogram // sd of every counted pixel
	Unit      float64          // of noise, in units of the stack
	Variances float64          // sum over the counted pixels, in units of the stack squared
}
