package sensor

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"fitsqa/internal/fact"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// analogue takes the quantisation noise step²/12 off a noise in quadrature
// (ACS Data Handbook section 4.2, citing Janesick 2001, for a step of 1). That
// holds from half a step of noise on. Under it what is left depends on where the
// mean falls between two steps, and the limit is returned, without an error: half
// a step, or where quantisation dominates sqrt(0.24 - 1/12) = 0.40 steps (see
// stats.QuantisedVariance).
func analogue(noise stats.Value, step float64) (v stats.Value, corrected bool) {
	if !noise.OK() || !(step > 0) {
		return noise, false
	}
	switch s2 := noise.V*noise.V - step*step/12; {
	case noise.V < stats.NoiseLimit(step):
		return stats.Known(step*math.Sqrt(stats.QuantisedVariance-1./12), math.NaN(), noise.N), false
	case s2 < step*step/4:
		return stats.Known(step/2, math.NaN(), noise.N), false
	default:
		v = noise
		v.V = math.Sqrt(s2)
		v.Err *= noise.V / v.V
		return v, true
	}
}

// limitNote tells that a read noise as analogue gives it is a limit: it has no error.
func limitNote(noise stats.Value) []fact.Fact {
	if noise.OK() && math.IsNaN(noise.Err) {
		return []fact.Fact{fact.Of(UpperLimit)}
	}
	return nil
}

type pixelNoise struct {
	median, rms, p99, noisy stats.Value // ADU; noisy: fraction
	limit                   float64     // ADU, above which a pixel is noisy
	counts                  Counts
}

// measurePixelNoise takes every pixel's own noise over the frames. With n
// frames it scatters as a chi-squared variable of n-1 degrees does; median and
// 99th percentile are divided by what those of a sensor of equal pixels would
// be, so that such a sensor shows its read noise in all three figures. A pixel
// is noisy (telegraph noise, mostly) when its variance is one that less than
// one pixel in a million of such a sensor has, and twice the usual noise.
func measurePixelNoise(r *stack.Series) pixelNoise {
	n := r.Sums.Frames
	if r.Tally == nil || !r.Noise.OK() {
		m := stats.Missing(PixelsNeed, fact.Count("frames", n), fact.Count("needed", stack.NoiseFrames))
		return pixelNoise{median: m, rms: m, p99: m, noisy: m}
	}
	h, sum, pixels, unit := r.Tally.Noise, r.Tally.Variances, int(r.Tally.Noise.N()), r.Tally.Unit
	nu := float64(n - 1)
	chi := distuv.ChiSquared{K: nu}
	of := func(p float64) float64 { return math.Sqrt(chi.Quantile(p) / nu) } // the sd of an equal sensor at quantile p
	adu := unit * r.Unit.Step
	pn := pixelNoise{counts: Counts{h.Trim(), adu, 0}}
	quantisation := r.Step * r.Step / 12
	less := func(v float64) float64 {
		if c, ok := analogue(stats.Known(v, 0, n), r.Step); ok {
			return c.V
		}
		return v
	}
	// The noise at quantile p, were all pixels equal, whose density there is times
	// the scatter's own. Beside the sampling error stands the distance of the two
	// values that the quantile lies between: variances of coarse steps can only have
	// some values, and have them unevenly often.
	scatter := func(v float64) float64 { return v / math.Sqrt(2*nu) / math.Sqrt(float64(pixels)) }
	at := func(p, times float64) (raw float64, v stats.Value) {
		q, gap := h.MidQuantile(p)
		raw = q * adu / of(p)
		return raw, stats.Known(less(raw), math.Hypot(times*scatter(raw), gap*adu/of(p)), n)
	}
	median, middle := at(0.5, stats.MedianErr)
	pn.median = middle
	pn.rms = stats.Known(math.Sqrt(max(sum/float64(pixels)*r.Unit.Step*r.Unit.Step-quantisation, 0)), scatter(median), n)
	_, pn.p99 = at(0.99, 3.7)
	pn.limit = median * max(2, of(1-1e-6))
	var noisy uint64
	for i, c := range h.Counts {
		if float64(h.Min+i)*adu > pn.limit {
			noisy += c
		}
	}
	f := float64(noisy) / float64(pixels)
	pn.noisy = stats.Known(f, math.Sqrt(f*(1-f)/float64(pixels)), n)
	return pn
}

// spread counts the pixels of a map in bins of unit around centre.
func spread(pixels []float32, centre, unit float64, workers int) Counts {
	return spreadOfRows(pixels, 1, 1, centre, unit, workers)
}

func spreadOfRows(pixels []float32, width, rowStep int, centre, unit float64, workers int) Counts {
	parts := make([]*stats.Histogram, max(1, workers))
	rows := (len(pixels)/width + rowStep - 1) / rowStep
	parallel.Ranges(rows, len(parts), func(w, from, to int) {
		h := stats.NewHistogram(-1<<17, 1<<17)
		if rowStep == 1 {
			countSpread(h, pixels[from*width:to*width], centre, unit)
		} else {
			for y := from; y < to; y++ {
				countSpread(h, pixels[y*rowStep*width:][:width], centre, unit)
			}
		}
		parts[w] = h
	})
	for _, p := range parts[1:] {
		parts[0].Merge(p)
	}
	return Counts{parts[0], unit, centre}
}

func countSpread(h *stats.Histogram, pixels []float32, centre, unit float64) {
	inv := 1 / unit
	for _, p := range pixels {
		q := (float64(p) - centre) * inv
		if q > -1<<17 && q < 1<<17 {
			h.Add(int(math.Floor(q + 0.5)))
		} else if q > 0 {
			h.Add(1 << 17)
		} else { // NaN too
			h.Add(-1 << 17)
		}
	}
}

// Clip is mean, median and spread of the counted values within five standard deviations.
func (c Counts) Clip() stats.Clipped {
	s := c.SigmaClip(5)
	s.Mean = c.Offset + c.Unit*s.Mean
	s.Median = c.Offset + c.Unit*s.Median
	s.SD *= c.Unit
	return s
}

// inQuadrature is sqrt(v² - part²) with its error; where nothing is left it is hidden, which
// is told with the most that it can be, by a name with its unit.
func inQuadrature(v, part stats.Value, hidden fact.Code, atMostOf string) stats.Value {
	d, errD := squareLeft(v, part)
	if d < 3*errD || d <= 0 {
		return stats.Missing(hidden, fact.Number(atMostOf, atMost(v, part)))
	}
	root := math.Sqrt(d)
	return stats.Known(root, errD/(2*root), v.N)
}

func squareLeft(v, part stats.Value) (square, err float64) {
	return v.V*v.V - part.V*part.V, 2 * math.Hypot(v.V*v.Err, part.V*part.Err)
}

// atMost is the limit of three sigma on what is left of a spread.
func atMost(v, part stats.Value) float64 {
	d, errD := squareLeft(v, part)
	return math.Sqrt(max(d, 0) + 3*errD)
}
