package sensor

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/dust"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stats"
)

// measureIllumination is the smooth course of the light over the frame, and what
// is lost of it in squares of an eighth of the shorter side in the corners.
func (f *flatRun) measureIllumination(flat []float32, workers int) {
	m := coarse(flat, f.group.Width, 1, workers)
	noise := cellNoise(m) // of a cell, pattern included
	brightest, brightErr := brightestOf(m, noise)
	side := max(1, min(f.group.Width, len(flat)/f.group.Width)/8)
	var mean float64
	for c := range 4 {
		f.detail.CornerPct[c] = 100 * (1 - cornerLevel(flat, f.group.Width, side, c)/brightest)
		mean += f.detail.CornerPct[c] / 4
	}
	for i := range m.Values {
		m.Values[i] /= brightest
	}
	f.detail.Illumination = m
	// A pixel's noise is that of a cell's median times the cell's side over MedianErr;
	// the mean of 4 squares divides it by twice their side.
	err := math.Hypot(noise*float64(m.Step)/stats.MedianErr/float64(side)/2, brightErr)
	f.corner = stats.Known(mean, 100*err/brightest, len(f.Frames))
	if f.capped(brightest) {
		f.corner = stats.Missing(BrightestSaturated)
	}
}

// capped tells whether so many times the flats' mean light is too near saturation in the
// brightest of them to be told.
func (f *flatRun) capped(level float64) bool {
	most := 0.0
	for _, s := range f.used {
		most = max(most, s.light)
	}
	return level*f.firstLevel*most+f.offset > f.rawUnit.Zero+f.rawUnit.Step*f.top
}

// cornerLevel is the clipped mean of a square in a corner: lower left, lower
// right, upper left, upper right.
func cornerLevel(flat []float32, width, side, corner int) float64 {
	x0, y0 := 0, 0
	if corner%2 == 1 {
		x0 = width - side
	}
	if corner/2 == 1 {
		y0 = len(flat)/width - side
	}
	square := make([]float32, 0, side*side)
	for y := y0; y < y0+side; y++ {
		square = append(square, flat[y*width+x0:y*width+x0+side]...)
	}
	return clippedLevel(square)
}

// brightReach is how far around the brightest place cells are fitted, in cells.
const brightReach = 5

// brightestOf is the height of the map's summit and its error: of a surface of
// second order through the cells around the place whose mean is highest, which
// noise or a reflection in one cell does not lift.
func brightestOf(m stats.Map, noise float64) (height, err float64) {
	ci, cj, highest := 0, 0, math.Inf(-1)
	for j := range m.Height {
		for i := range m.Width {
			var around []float64
			m.Near(i, j, 2, func(_, _ int, v float64) { around = append(around, v) })
			if v := stats.Mean(around); v > highest {
				ci, cj, highest = i, j, v
			}
		}
	}
	var rows, right []float64
	terms := func(di, dj int) []float64 {
		u, v := float64(di), float64(dj)
		return []float64{1, u, v, u * u, u * v, v * v}
	}
	m.Near(ci, cj, brightReach, func(di, dj int, v float64) {
		rows, right = append(rows, terms(di, dj)...), append(right, v)
	})
	n := len(right)
	var c mat.VecDense
	if n < 12 || c.SolveVec(mat.NewDense(n, 6, rows), mat.NewVecDense(n, right)) != nil {
		return highest, noise / 5
	}
	// The vertex, where it lies near; and a cell's mean is lower than its middle by a
	// twelfth of both curvatures.
	height = c.AtVec(0) - (c.AtVec(3)+c.AtVec(5))/12
	if u, v, ok := vertex(&c); ok && math.Abs(u) <= 3 && math.Abs(v) <= 3 {
		height += (c.AtVec(1)*u + c.AtVec(2)*v) / 2
	}
	return height, noise * math.Sqrt(3/float64(n)) // the middle of a surface of second order
}

// vertex is where a surface of second order is level; false when that is no summit.
func vertex(c *mat.VecDense) (u, v float64, ok bool) {
	uu, uv, vv := 2*c.AtVec(3), c.AtVec(4), 2*c.AtVec(5)
	det := uu*vv - uv*uv
	if !(uu < 0 && det > 0) {
		return 0, 0, false
	}
	return (uv*c.AtVec(2) - vv*c.AtVec(1)) / det, (uv*c.AtVec(1) - uu*c.AtVec(2)) / det, true
}

// measurePRNU is the spread of the pixels' response within blocks, the means of
// rows and columns taken off, without what temporal noise leaves (EMVA 1288
// release 3.1, spatial variance, and 4.0's pixel part of it; from memory): rows
// that alternate or band are reported by themselves. Blocks in dust shadows, whose edges
// are no pixel's response, are left out, and what the shadows' list lacks by taking the
// median of the blocks.
func (f *flatRun) measurePRNU(flat []float32, workers int) {
	if !f.Noise.OK() {
		f.prnu = stats.Because(f.Noise.Why)
		return
	}
	width := f.group.Width
	stride := 1
	if len(planeNames(f.Frames[0].Meta)) > 0 {
		stride = 2 // pixels of one colour are compared
	}
	side := pairBlock * stride
	nx, ny := width/side, len(flat)/width/side
	if nx*ny < 4 {
		f.prnu = stats.Missing(FramesSmall)
		return
	}
	kept := f.temporalAt()
	variances, temporals := make([]float64, nx*ny), make([]float64, nx*ny)
	parallel.Items(ny, workers, func(j int) {
		d := make([]float64, pairBlock*pairBlock)
		for i := range nx {
			b := j*nx + i
			v, level := responseVariance(d, flat, width, i*side, j*side, stride)
			variances[b], temporals[b] = v/medianShare, math.NaN()
			if level > unlit && !f.capped(level) && !f.shaded(i*side, j*side, side) {
				temporals[b] = kept(level * f.firstLevel)
			}
		}
	})
	var time, left []float64
	for b, v := range variances {
		if t := temporals[b]; !math.IsNaN(t) {
			time, left = append(time, t), append(left, v-t)
		}
	}
	if len(left) < 4 {
		f.prnu = stats.Missing(LittleLight)
		return
	}
	t := stats.Median(time)
	rms := func(v, rel float64) stats.Value {
		sd := 100 * math.Sqrt(max(0, v))
		return stats.Known(sd, sd*rel, len(f.Frames))
	}
	spatial := rms(stats.Median(left)+t, stats.MedianErr*math.Sqrt(1/(2*patternFreedom*float64(len(left)))))
	temporal := rms(t, f.Noise.Err/f.Noise.V)
	f.prnu = inQuadrature(spatial, temporal, ResponseHidden, "at_most_pct")
}

func (f *flatRun) shaded(x0, y0, side int) bool {
	half := float64(side) / 2
	return slices.ContainsFunc(f.detail.Shadows, func(s dust.Shadow) bool {
		reach := 0.6*s.Diameter + math.Sqrt2*half
		return math.Hypot(s.X-float64(x0)-half, s.Y-float64(y0)-half) < reach
	})
}

// medianShare is the median of a variance of patternFreedom degrees over its mean, by
// the cube of Wilson and Hilferty (1931; from memory).
var medianShare = math.Pow(1-2./(9*patternFreedom), 3)

// temporalAt tells the variance that noise leaves in the master where so many times
// the flats' light falls, relative to the square of that: of the light, which goes as
// one over it, of the read-outs, and of the base that was taken off all flats alike.
func (f *flatRun) temporalAt() func(level float64) float64 {
	perLight, n := f.variancePerLight(), float64(len(f.used))
	var light, still, inverse float64
	for _, s := range f.used {
		light += perLight / s.light / (n * n)
		still += f.readVar / (s.light * s.light) / (n * n)
		inverse += 1 / s.light / n
	}
	still += f.baseVar * inverse * inverse
	return func(level float64) float64 { return light/level + still/(level*level) }
}

// variancePerLight is that of the light alone, ADU² per ADU: of the pairs, else of the
// stack's own noise.
func (f *flatRun) variancePerLight() float64 {
	of := func(noise, light float64) float64 { return noise*noise*light - f.readVar/light }
	var each []float64
	for _, p := range f.noises {
		each = append(each, of(p.noise, p.light))
	}
	if len(each) == 0 {
		var lights []float64
		for _, s := range f.used {
			lights = append(lights, s.light)
		}
		each = append(each, of(f.Noise.V/flatScale, stats.Median(lights)))
	}
	return stats.Mean(each)
}

// responseVariance is the pattern-free variance in a block, relative to the
// block's mean squared, and that mean.
func responseVariance(d []float64, flat []float32, width, x0, y0, stride int) (v, mean float64) {
	const n = pairBlock
	var sum float64
	for l := range n {
		for k := range n {
			d[l*n+k] = float64(flat[(y0+l*stride)*width+x0+k*stride])
			sum += d[l*n+k]
		}
	}
	mean = sum / (n * n)
	for k := range d {
		d[k] -= mean
	}
	return patternFreeVariance(d) / (mean * mean), mean
}

// measureFlicker is how much the level jumps from flat to flat of one exposure,
// whatever steady course it takes: twilight falls by a share of itself a minute and no
// straight line, so logarithms are taken, and of three flats in a row how far the
// middle one is off the mean of its neighbours, whose variance is 3/2 of one flat's.
// That frees two flats of n; the error is that of second differences of white noise
// (derived). A flat that is saturated or dark tells no level: no three are told by it.
func (f *flatRun) measureFlicker() {
	var sum, triples float64
	n := 0
	f.detail.DriftPct = stats.Missing(DriftNeedsFlats)
	longest := 0
	for _, levels := range f.levelsByExposure() {
		if len(levels) < 3 {
			continue
		}
		for i := range levels[2:] {
			if d := levels[i+1] - (levels[i]+levels[i+2])/2; !math.IsNaN(d) {
				sum += d * d / 1.5
				triples++
			}
		}
		own := len(levels)
		for _, v := range levels {
			if math.IsNaN(v) {
				own--
			}
		}
		n += own
		if own >= 3 && own > longest {
			longest = own
			f.detail.DriftPct = driftOf(levels)
		}
	}
	if triples == 0 {
		f.flicker = stats.Missing(FlickerNeedsFlats)
		return
	}
	v := math.Sqrt(sum / triples)
	f.flicker = stats.Known(v, v*math.Sqrt(secondDifferences/(2*triples)), n)
}

// levelsByExposure are 100 ln of the light of the flats of each exposure, in the order in
// which they were shot; NaN of those that tell none.
func (f *flatRun) levelsByExposure() [][]float64 {
	at := map[float64]int{}
	var all [][]float64
	for _, shot := range f.shots {
		e := shot.frame.Meta.Exposure
		if math.IsNaN(e) {
			e = -1
		}
		i, ok := at[e]
		if !ok {
			i = len(all)
			at[e], all = i, append(all, nil)
		}
		level := math.NaN()
		if shot.light > f.darkest() && shot.middle <= f.top {
			level = 100 * math.Log(shot.light)
		}
		all[i] = append(all[i], level)
	}
	return all
}

// secondDifferences is by how much the variance of the mean square of second
// differences of white noise exceeds that of as many independent squares:
// 1 + 2 (4/6)² + 2 (1/6)².
const secondDifferences = 35. / 18

// driftOf is how much levels, logarithms in percent, rise from the first to the last.
func driftOf(levels []float64) stats.Value {
	var at, told []float64
	for i, v := range levels {
		if !math.IsNaN(v) {
			at, told = append(at, float64(i)), append(told, v)
		}
	}
	line, err := stats.FitLine(at, told, nil)
	if err != nil {
		return stats.Missing(OneAbscissa)
	}
	span := float64(len(levels) - 1)
	times := math.Exp(line.B * span / 100)
	return stats.Known(100*(times-1), times*line.ErrB*span, len(told))
}
