package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// flatScale is the level that every flat is brought to before the flats of a
// set are combined: the shot noise of any real flat spans many steps of it.
const flatScale = 20000

// pairRange is by how much two flats may differ in level to be compared, and
// faintest the share of the brightest flat's light that a flat needs to be
// combined with it.
const (
	pairRange = 1.25
	faintest  = 0.4
)

// topSample is the sample above which a flat is surely cut by the file format.
const topSample = 0.995 * math.MaxUint16

// saturatedFrom is the share of the level where samples pile up from which means
// are taken for cut.
const saturatedFrom = 0.97

// base is what is taken off the flats: the master of darks of the flats' own
// exposure, else of the bias, with a share of longer darks on it where that tells, else the
// level of other darks, whose hot pixels would be no less wrong than none, else nothing. Masters that some program made stand behind frames.
func (f *flatRun) base(cs *Cameras) []float32 {
	if m := f.flatDark(cs); m != nil {
		return m
	}
	b := cs.nearestBias(f.group)
	if b == nil {
		f.levelOfDarks(cs)
		return nil
	}
	f.offset, f.offsetFrom = b.offset.V, fact.Of(OffsetOfBias)
	if b.atMost > 0 {
		f.offsetFrom = fact.Of(OffsetOfMasterBias)
	}
	f.baseVar = 0
	if kept := b.masterNoise(); kept.OK() {
		f.baseVar = kept.V * kept.V
	}
	f.readVar, f.readVarErr = b.variance()
	if m := f.darkened(cs, b); m != nil {
		return m
	}
	return b.master.Pixels()
}

// longFlats are flats of so many seconds that dark signal may be in their light, of an
// uncooled sensor's hot pixels first (common practice, no source).
const longFlats = 5

// darkened is a bias with what longer darks of the flats' temperature gather of dark signal
// in the flats' exposure, and takes level and noise of that; nil where there are no such
// darks, or it comes to less than a step of the samples.
func (f *flatRun) darkened(cs *Cameras, b *biasRun) []float32 {
	if b.atMost > 0 || !b.Noise.OK() || !f.oneExposure(cs) {
		return nil
	}
	var nearest *darkRun
	for _, d := range cs.darks {
		if d.ok() && d.Noise.OK() && d.bias == b && SameReadout(d.group, f.group) && d.group.Exposure > f.group.Exposure &&
			tempGap(d.group, f.group) <= cs.opt.TempTolC && (nearest == nil || d.group.Exposure < nearest.group.Exposure) {
			nearest = d
		}
	}
	if nearest == nil {
		f.ownDark = f.group.Exposure > longFlats
		return nil
	}
	share := f.group.Exposure / nearest.group.Exposure
	m := b.master.Copy()
	dark := nearest.master.Pixels()
	if signal := share * (nearest.Level().V - b.offset.V); m == nil || dark == nil || signal < nearest.Step {
		return nil
	}
	for i, v := range dark {
		m[i] += float32(share) * (v - m[i])
	}
	f.offset, f.offsetFrom = clippedLevel(m), fact.Of(OffsetOfLongerDarks, fact.Number("exposure_s", nearest.group.Exposure))
	f.baseVar = (1-share)*(1-share)*f.baseVar + share*share*masterVariance(nearest.Noise, len(nearest.Frames))
	f.readVar += share * max(nearest.Noise.V*nearest.Noise.V-f.readVar, 0) // shot noise of the dark current
	return m
}

// flatDark is the master of darks of the flats' own exposure; nil where there are none.
func (f *flatRun) flatDark(cs *Cameras) []float32 {
	if !f.oneExposure(cs) {
		return nil
	}
	fits := func(g *frames.Group) bool {
		return SameReadout(g, f.group) && math.Abs(g.Exposure-f.group.Exposure) <= cs.opt.ExposureTol*f.group.Exposure
	}
	for _, d := range cs.darks {
		if fits(d.group) && !tempsFar(d.group, f.group) {
			if m := d.master.Pixels(); m != nil {
				f.offset, f.offsetFrom = clippedLevel(m), fact.Of(OffsetOfFlatDarks)
				f.baseVar = masterVariance(d.Noise, len(d.Frames))
				f.readVarOf(cs.nearestBias(f.group))
				if d.Noise.OK() {
					f.readVar = max(f.readVar, d.Noise.V*d.Noise.V) // the dark current's shot noise too
				}
				return m
			}
		}
	}
	for _, l := range cs.lentDarks {
		if fits(l.Group) && !tempsFar(l.Group, f.group) {
			if m := l.Plane.Pixels(); m != nil {
				f.byLentDark(l, m, fact.Of(OffsetOfFlatDark))
				f.readVarOf(cs.nearestBias(f.group))
				return m
			}
		}
	}
	return nil
}

// readVarOf takes the noise of one frame without light from a bias, where there is one
// that tells it.
func (f *flatRun) readVarOf(b *biasRun) {
	if b == nil {
		return
	}
	if v, err := b.variance(); v > 0 {
		f.readVar, f.readVarErr = v, err
	}
}

// byLentDark takes offset and noise from a master dark that some program made.
func (f *flatRun) byLentDark(l Lent, pixels []float32, from fact.Fact) {
	kept := SpatialNoise(pixels, f.group.Width)
	one := l.noiseOfOne(kept)
	f.offset, f.offsetFrom, f.baseVar = clippedLevel(pixels), from, kept*kept
	f.readVar, f.readVarErr = one*one/2, one*one/2
}

// levelOfDarks takes offset and read noise from the shortest darks where there is no bias.
// What dark current is in them is taken off the flats' light and, as shot noise, off its
// variance alike, which leaves the gain as it is.
func (f *flatRun) levelOfDarks(cs *Cameras) {
	shortest := math.Inf(1)
	for _, d := range cs.darks {
		if t := d.group.Exposure; d.ok() && d.Noise.OK() && SameReadout(d.group, f.group) && !tempsFar(d.group, f.group) && t < shortest {
			shortest = t
			f.offset, f.offsetFrom = d.Level().V, fact.Of(OffsetOfDarks, fact.Number("exposure_s", t))
			f.readVar, f.byDarks = d.Noise.V*d.Noise.V, true
		}
	}
	if f.byDarks {
		return
	}
	for _, l := range cs.lentDarks {
		if t := l.Group.Exposure; SameReadout(l.Group, f.group) && t < shortest {
			if m := l.Plane.Pixels(); m != nil {
				shortest = t
				f.byLentDark(l, m, fact.Of(OffsetOfMasterDark, fact.Number("exposure_s", t)))
				f.baseVar, f.byDarks = 0, true
			}
		}
	}
}

// masterVariance is what the mean of so many frames keeps of their noise; 0 where that
// is not known.
func masterVariance(noise stats.Value, frames int) float64 {
	return noise.Or(0) * noise.Or(0) / float64(frames)
}

func (f *flatRun) oneExposure(cs *Cameras) bool {
	for _, fr := range f.group.Frames {
		if !(math.Abs(fr.Meta.Exposure-f.group.Exposure) <= cs.opt.ExposureTol*f.group.Exposure) {
			return false
		}
	}
	return true
}

// inOrder is the flats by exposure, longest first, and in time order within
// one: neighbours can be compared, and the brightest come first.
func (f *flatRun) inOrder() []*frames.Frame {
	fs := slices.DeleteFunc(slices.Clone(f.group.Frames), func(fr *frames.Frame) bool { return slices.Contains(f.copies, fr) })
	slices.SortStableFunc(fs, func(a, b *frames.Frame) int { return cmp.Compare(b.Meta.Exposure, a.Meta.Exposure) })
	return fs
}

// comparePair adds the transfer points of two adjacent flats.
func (f *flatRun) comparePair(x, y *stack.Sample, mosaic bool, workers int) {
	stride := 1
	if mosaic {
		stride = 2
	}
	for p := range stride * stride {
		u := f.rawUnit
		pair := measurePair(x.X, y.X, f.group.Width, stride, p%2, p/2, (f.offset-u.Zero)/u.Step, f.readVar/(u.Step*u.Step), f.top, workers)
		point := TransferPoint{Set: f.group.Label(), Signal: pair.signal * u.Step, Variance: pair.variance * u.Step * u.Step, Err: math.NaN(),
			Gain: pair.gain.Scaled(1 / u.Step), Exposure: y.Frame.Meta.Exposure, Residual: math.NaN(), plane: p, of: [2]*frames.Frame{x.Frame, y.Frame}}
		if f.offsetFrom.Code == "" || f.readVar == 0 {
			point.Variance = math.NaN()
			if pair.gain.OK() {
				point.Gain = stats.Missing(NoBiasPair)
			}
		}
		// The flats' series and that of the bias moved both.
		point.shared = math.Hypot(math.Sqrt2*math.Hypot(stack.WanderShare*math.Sqrt(f.readVar)/point.Signal, 2*steadyNoise*f.readVar/point.Variance), f.readVarErr/point.Variance)
		if point.Gain.OK() {
			point.Err = point.Variance * point.Gain.Err / point.Gain.V
		}
		f.points = append(f.points, point)
		if pair.noise > 0 {
			f.noises = append(f.noises, pairNoise{x.Frame, y.Frame, pair.signal * u.Step, pair.noise})
		}
	}
}

// pixelNoise is the noise of a pixel of one flat of the master, in units of the
// stack, by the pairs: free of rows that differ from frame to frame.
func (f *flatRun) pixelNoise() stats.Value {
	var each []float64
	var sum float64
	for _, p := range f.noises {
		if slices.Contains(f.Frames, p.x) && slices.Contains(f.Frames, p.y) {
			each = append(each, p.noise*math.Sqrt(p.light)) // the same at every level, as far as it is the light's
			sum += p.noise * p.noise
		}
	}
	if len(each) == 0 {
		return stats.Missing(NoFlatPair)
	}
	n := float64(len(each))
	v := flatScale * math.Sqrt(sum/n)
	// Neighbouring pairs share a flat, which makes the variance of their mean half as
	// large again; a colour has its share of the blocks.
	blocks := float64(f.group.Width*f.group.Height) / (pairBlock * pairBlock) / float64(max(1, len(planeNames(f.group.Frames[0].Meta))))
	err := v * math.Sqrt(1.5/(2*patternFreedom*blocks*n))
	if n > 2 {
		err = max(err, v*math.Sqrt(stats.Variance(each)/n)/stats.Mean(each))
	}
	return stats.Known(v, err, len(f.Frames))
}

// darkest is the light up to which a flat has none, ADU: ten steps of whole numbers; the
// numbers of others may be of any size, parts of 1 among them, and their noise tells.
func (f *flatRun) darkest() float64 {
	if f.rawUnit == stack.Whole {
		return 10
	}
	return max(10*f.rawUnit.Step, 3*math.Sqrt(f.readVar))
}

// unlit is the share of the mean light below which a pixel of a flat has none: overscan
// that no header declares, what lies outside the image circle, dead pixels. No dust and
// no fall-off to the corners takes so much (common practice, no source).
const unlit = 0.05

// Normalise divides a master flat by the mean of its pixels with light; in a colour
// mosaic each plane by its own. The means are given, of a mosaic's pixels as they lie in
// it. Pixels without light become 0, and so those of subs that are divided by them gaps:
// a flat's noise there would blow up what little the subs have.
func Normalise(pixels []float32, g *frames.Group) (means []float64) {
	stride, width := 1, g.Width
	if len(planeNames(g.Frames[0].Meta)) > 0 {
		stride = 2
	}
	for p := range stride * stride {
		mean := litMean(pixels, width, stride, p)
		means = append(means, mean)
		inv := float32(1 / mean)
		for y := p / 2; y < len(pixels)/width; y += stride {
			for x := p % 2; x < width; x += stride {
				if pixels[y*width+x] *= inv; pixels[y*width+x] < unlit {
					pixels[y*width+x] = 0
				}
			}
		}
	}
	return means
}

// litMean is the mean of a plane's pixels with light: of those above the share of the
// mean that tells them, which rises as the others are left out, until it keeps.
func litMean(pixels []float32, width, stride, plane int) (mean float64) {
	from := math.Inf(-1)
	for {
		var sum, n float64
		for y := plane / 2; y < len(pixels)/width; y += stride {
			for x := plane % 2; x < width; x += stride {
				if v := float64(pixels[y*width+x]); v >= from {
					sum += v
					n++
				}
			}
		}
		if mean = sum / n; !(unlit*mean > max(from, 0)*(1+1e-3)) {
			return mean
		}
		from = unlit * mean
	}
}

// unlitShare is the share of pixels that Normalise found without light.
func unlitShare(flat []float32) float64 {
	n := 0
	for _, v := range flat {
		if v == 0 {
			n++
		}
	}
	return float64(n) / float64(len(flat))
}
