package calib

import (
	"math"
	"strings"

	"fitsqa/internal/stats"
)

// measureIllumination is the smooth course of the light over the frame.
func (f *flatRun) measureIllumination(flat []float32, workers int) {
	m := coarse(flat, f.group.Width, workers)
	brightest := stats.Quantile(m.Values, 0.995) // not the one cell that a reflection lifts
	for i := range m.Values {
		m.Values[i] /= brightest
	}
	f.detail.Illumination = m
	// Corners: squares of an eighth of the shorter side.
	k := max(1, min(m.Width, m.Height)/8)
	var mean float64
	for c := range 4 {
		var cells []float64
		for j := range k {
			for i := range k {
				x, y := i, j
				if c%2 == 1 {
					x = m.Width - 1 - i
				}
				if c/2 == 1 {
					y = m.Height - 1 - j
				}
				cells = append(cells, m.At(x, y))
			}
		}
		f.detail.CornerPct[c] = 100 * (1 - stats.Median(cells))
		mean += f.detail.CornerPct[c] / 4
	}
	err := math.NaN()
	if f.noise.OK() {
		err = 100 * f.noise.V / flatScale / math.Sqrt(float64(len(f.frames))) / float64(k*m.Step) / 2
	}
	f.corner = stats.Known(mean, err, len(f.frames))
}

// measurePRNU is the spread of the pixels' response within blocks, the means of
// rows and columns taken off, without what temporal noise leaves (EMVA 1288
// release 3.1, spatial variance, and 4.0's pixel part of it; from memory): rows
// that alternate or band are told by themselves. The edges of dust shadows are
// left out by taking the median of the blocks.
func (f *flatRun) measurePRNU(flat []float32, workers int) {
	if !f.noise.OK() {
		f.prnu = stats.Missing(f.noise.Why)
		return
	}
	width := f.group.Width
	stride := 1
	if len(planeNames(f.frames[0].Meta)) > 0 {
		stride = 2 // pixels of one colour are compared
	}
	side := pairBlock * stride
	nx, ny := width/side, len(flat)/width/side
	if nx*ny < 4 {
		f.prnu = stats.Missing("the frames are too small")
		return
	}
	variances := make([]float64, nx*ny)
	parallelItems(ny, workers, func(j int) {
		d := make([]float64, pairBlock*pairBlock)
		for i := range nx {
			variances[j*nx+i] = responseVariance(d, flat, width, i*side, j*side, stride)
		}
	})
	// Noise is that of the light: relative to a pixel's level it grows as one
	// over the root of it, so both variances are taken where the level is 1.
	v := stats.Median(variances)
	n := float64(len(f.frames))
	rel := f.noise.V / flatScale / math.Sqrt(n)
	spatial := stats.Known(100*math.Sqrt(v), 100*math.Sqrt(v)*1.2533*math.Sqrt(1/(2*patternFreedom*float64(nx*ny))), len(f.frames))
	temporal := stats.Known(100*rel, 100*rel*f.noise.Err/f.noise.V, len(f.frames))
	f.prnu = inQuadrature(spatial, temporal, "the non-uniformity")
	if !f.prnu.OK() {
		f.prnu.Why = strings.ReplaceAll(f.prnu.Why, "ADU", "%")
	}
}

// responseVariance is the pattern-free variance in a block, relative to the
// block's mean squared.
func responseVariance(d []float64, flat []float32, width, x0, y0, stride int) float64 {
	const n = pairBlock
	var sum float64
	for l := range n {
		for k := range n {
			d[l*n+k] = float64(flat[(y0+l*stride)*width+x0+k*stride])
			sum += d[l*n+k]
		}
	}
	mean := sum / (n * n)
	for k := range d {
		d[k] -= mean
	}
	return patternFreeVariance(d) / (mean * mean)
}

// measureFlicker is how much the level jumps from flat to flat of one
// exposure, a steady drift (twilight, a warming lamp) taken off first.
func (f *flatRun) measureFlicker() {
	byExposure := map[float64][]float64{}
	var order []float64
	for _, shot := range f.shots {
		e := shot.frame.Meta.Exposure
		if math.IsNaN(e) {
			e = -1
		}
		if _, ok := byExposure[e]; !ok {
			order = append(order, e)
		}
		byExposure[e] = append(byExposure[e], shot.light)
	}
	var sum, dof float64
	n := 0
	f.detail.DriftPct = stats.Missing("three flats of one exposure are needed")
	longest := 0
	for _, e := range order {
		levels := byExposure[e]
		if len(levels) < 3 {
			continue
		}
		at, rel := make([]float64, len(levels)), make([]float64, len(levels))
		mean := stats.Mean(levels)
		for i := range at {
			at[i], rel[i] = float64(i), 100*levels[i]/mean
		}
		line, err := stats.FitLine(at, rel, nil)
		if err != nil {
			continue
		}
		sum += line.Chi2
		dof += float64(len(levels) - 2)
		n += len(levels)
		if len(levels) > longest {
			longest = len(levels)
			span := float64(len(levels) - 1)
			f.detail.DriftPct = stats.Known(line.B*span, line.ErrB*span, len(levels))
		}
	}
	if dof == 0 {
		f.flicker = stats.Missing("flicker needs three flats of one exposure")
		return
	}
	v := math.Sqrt(sum / dof)
	f.flicker = stats.Known(v, v/math.Sqrt(2*dof), n)
}
