package calib

import (
	"fmt"
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

// measurePRNU is the spread of the pixels' response within blocks, each
// block's own tilt taken off, without what temporal noise leaves (EMVA 1288
// release 3.1, spatial variance; from memory). Pixels are clipped at 5 sigma,
// the edges of dust shadows by taking the median of the blocks.
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
		d := make([]float64, 0, pairBlock*pairBlock)
		for i := range nx {
			variances[j*nx+i] = tiltFreeVariance(d, flat, width, i*side, j*side, stride)
		}
	})
	// Noise is that of the light: relative to a pixel's level it grows as one
	// over the root of it, so both variances are taken where the level is 1.
	v := stats.Median(variances)
	n := float64(len(f.frames))
	rel := f.noise.V / flatScale / math.Sqrt(n)
	spatial := stats.Known(100*math.Sqrt(v), 100*math.Sqrt(v)*1.2533*math.Sqrt(1.0/(2*pairBlock*pairBlock*float64(nx*ny))), len(f.frames))
	temporal := stats.Known(100*rel, 100*rel*f.noise.Err/f.noise.V, len(f.frames))
	f.prnu = inQuadrature(spatial, temporal, "the non-uniformity")
	if !f.prnu.OK() {
		f.prnu.Why = strings.ReplaceAll(f.prnu.Why, "ADU", "%")
	}
}

// tiltFreeVariance is the clipped variance in a block about the plane through
// it, relative to the block's mean squared.
func tiltFreeVariance(d []float64, flat []float32, width, x0, y0, stride int) float64 {
	const n = pairBlock
	var sum, su, sv float64
	for l := range n {
		for k := range n {
			p := float64(flat[(y0+l*stride)*width+x0+k*stride])
			sum += p
			su += p * (float64(k) - (n-1)/2.0)
			sv += p * (float64(l) - (n-1)/2.0)
		}
	}
	mean := sum / (n * n)
	const suu = n * n * (n*n - 1) / 12.0 // sum of (k - mean)² over the block
	bu, bv := su/suu, sv/suu
	d = d[:0]
	for l := range n {
		for k := range n {
			p := float64(flat[(y0+l*stride)*width+x0+k*stride])
			d = append(d, p-mean-bu*(float64(k)-(n-1)/2.0)-bv*(float64(l)-(n-1)/2.0))
		}
	}
	return clippedVariance(d) * (n*n - 1) / (n*n - 3) / (mean * mean)
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

// nameBanded warns of flats whose rows are uneven beyond noise against the
// others: a lamp that flickers faster than the rows are read out.
func (f *flatRun) nameBanded() {
	if len(f.frames) < 3 || !f.noise.OK() || f.stack.Height < bandWindow {
		return
	}
	rows := f.stack.RowMeans
	white := f.noise.V / math.Sqrt(float64(f.stack.Width))
	var names []string
	profile := make([]float64, f.stack.Height)
	for i, fr := range f.frames {
		for y := range profile {
			var others float64
			for k := range rows {
				if k != i {
					others += float64(rows[k][y])
				}
			}
			profile[y] = float64(rows[i][y]) - others/float64(len(rows)-1)
		}
		if s := stats.MADSigma(highPass(profile)); s > 5*white && s > 1e-3*flatScale {
			names = append(names, fmt.Sprintf("%s (%.1f %%)", fr.Name, 100*s/flatScale))
		}
	}
	if len(names) > 0 {
		f.warnings = append(f.warnings, "banded by a flickering lamp: "+strings.Join(names, ", ")+"; use longer exposures")
	}
}
