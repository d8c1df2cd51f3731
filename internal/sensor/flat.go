package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// flatRun is a flat set on its way. Its stack holds the frames with the offset
// taken off and scaled to one level.
type flatRun struct {
	*stack.Series
	group  *frames.Group
	master *stack.Plane // nil when nothing could be measured
	why    string

	offset     float64          // ADU
	offsetFrom string           // in words; "" when there was nothing to take off
	readVar    float64          // ADU², of one frame without light
	raw        *stats.Histogram // samples of all frames, in rawUnit
	rawUnit    stack.Scale
	top        float64 // sample in rawUnit above which a mean is cut by saturation
	points     []TransferPoint
	noises     []pairNoise
	copies     []*frames.Frame // left out
	shots      []flatShot      // every flat that was read, brightest exposures first
	used       []flatShot      // those of the master
	prnu       stats.Value
	flicker    stats.Value
	snr        stats.Value
	corner     stats.Value
	shadowN    stats.Value
	lone       string // of a single flat, what is known of its being a master; else ""
	detail     *Flat
}

// flatShot is the level of one flat.
type flatShot struct {
	frame  *frames.Frame
	middle float64 // median sample, in rawUnit
	level  float64 // ADU, offset included
	light  float64 // ADU, above the offset
}

func (f *flatRun) ok() bool { return f.why == "" && f.Series.OK() }

// measure streams the set, once more where copies have to be left out.
func (f *flatRun) measure(cs *Cameras) {
	f.detail = &Flat{}
	m, err := f.stackFlats(cs)
	if err == nil && f.dropCopies() {
		warnings := f.Warnings
		m, err = f.stackFlats(cs)
		f.Warnings = append(warnings, f.Warnings...)
	}
	switch {
	case err != nil:
		f.why = err.Error()
		return
	case len(f.Frames) == 0 && f.why == "":
		f.why = "no frame of the set can be read"
		return
	case f.why != "":
		return
	}
	f.master = cs.opt.Room.Add(m)
	for _, s := range f.shots {
		f.detail.Frames = append(f.detail.Frames, stack.FrameLevel{Name: s.frame.Name, Start: s.frame.Meta.Start, TempC: s.frame.Meta.SensorTemp, Level: s.light})
	}
	f.detail.Points = f.points
	f.detail.Master = preview(m, f.group)
	f.measureIllumination(m, cs.opt.Workers)
	f.measurePRNU(m, cs.opt.Workers)
	f.measureShadows(m, cs.opt.Workers)
	f.findDead(m)
	f.measureFlicker()
	f.nameBanded()
	f.snr = f.masterSNR()
	f.Sums, f.Pixels = nil, nil
}

// dropCopies leaves copies of other flats out, if there are any and not all are.
func (f *flatRun) dropCopies() bool {
	if f.Sums == nil {
		return false
	}
	copies := stack.CopiesAmong(f.Sums.RowMeans)
	if len(copies) == 0 || len(copies) == len(f.Frames)-1 {
		return false
	}
	for i := range copies {
		f.copies = append(f.copies, f.Frames[i])
	}
	f.Warnings = append(f.Warnings, stack.ImpostorWarnings(f.Frames, copies, nil)...)
	return true
}

// base is what is taken off the flats: the master of darks of the flats' own
// exposure, else of the bias, else nothing.
func (f *flatRun) base(cs *Cameras) []float32 {
	for _, d := range cs.darks {
		if SameReadout(d.group, f.group) && math.Abs(d.group.Exposure-f.group.Exposure) <= cs.opt.ExposureTol*f.group.Exposure && tempGap(d.group, f.group) <= 5 && f.oneExposure(cs) {
			if m := d.master.Pixels(); m != nil {
				f.offset = clippedLevel(m)
				f.offsetFrom = "darks of the same exposure"
				if b := cs.nearestBias(f.group); b != nil && b.Noise.OK() {
					f.readVar = b.Noise.V * b.Noise.V
				}
				return m
			}
		}
	}
	b := cs.nearestBias(f.group)
	if b == nil {
		return nil
	}
	f.offset, f.offsetFrom = b.offset.V, "bias"
	if b.Noise.OK() {
		f.readVar = b.Noise.V * b.Noise.V
	}
	return b.master.Pixels()
}

func (f *flatRun) oneExposure(cs *Cameras) bool {
	for _, fr := range f.group.Frames {
		if !(math.Abs(fr.Meta.Exposure-f.group.Exposure) <= cs.opt.ExposureTol*f.group.Exposure) {
			return false
		}
	}
	return true
}

// pairRange is by how much two flats may differ in level to be compared, and
// faintest the share of the brightest flat's light that a flat needs to be
// combined with it.
const (
	pairRange = 1.25
	faintest  = 0.4
)

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
			Gain: pair.gain.Scaled(1 / u.Step), Exposure: y.Frame.Meta.Exposure, Residual: math.NaN()}
		if f.offsetFrom == "" || f.readVar == 0 {
			point.Variance = math.NaN()
			if pair.gain.OK() {
				point.Gain = stats.Missing("no bias frames, or only one: the two-flat-two-bias method needs two")
			}
		}
		if point.Gain.OK() {
			point.Err = point.Variance * point.Gain.Err / point.Gain.V
		}
		f.points = append(f.points, point)
		if pair.noise > 0 {
			f.noises = append(f.noises, pairNoise{x.Frame, y.Frame, pair.signal * u.Step, pair.noise})
		}
	}
}

// pairNoise is the noise of a pixel of two flats over its light.
type pairNoise struct {
	x, y  *frames.Frame
	light float64 // ADU
	noise float64 // of a pixel, as a share of it
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
		return stats.Missing("no pair of flats of about the same level")
	}
	n := float64(len(each))
	v := flatScale * math.Sqrt(sum/n)
	blocks := float64(f.group.Width*f.group.Height) / (pairBlock * pairBlock)
	err := v / math.Sqrt(2*patternFreedom*blocks*n)
	if n > 2 {
		err = max(err, v*math.Sqrt(stats.Variance(each)/n)/stats.Mean(each))
	}
	return stats.Known(v, err, len(f.Frames))
}

// topSample is the sample above which a flat is surely cut by the file format.
const topSample = 0.995 * math.MaxUint16

// saturatedFrom is the share of the level where samples pile up from which means
// are taken for cut.
const saturatedFrom = 0.97

// Normalise divides a master flat by its mean; in a colour mosaic each plane by its own.
func Normalise(pixels []float32, g *frames.Group) {
	stride, width := 1, g.Width
	if len(planeNames(g.Frames[0].Meta)) > 0 {
		stride = 2
	}
	for p := range stride * stride {
		var sum, n float64
		height := len(pixels) / width
		for y := p / 2; y < height; y += stride {
			for x := p % 2; x < width; x += stride {
				sum += float64(pixels[y*width+x])
				n++
			}
		}
		inv := float32(n / sum)
		for y := p / 2; y < height; y += stride {
			for x := p % 2; x < width; x += stride {
				pixels[y*width+x] *= inv
			}
		}
	}
}

// masterSNR is the signal to noise of a pixel of the master flat.
func (f *flatRun) masterSNR() stats.Value {
	if !f.Noise.OK() {
		return stats.Missing(f.Noise.Why)
	}
	v := flatScale * math.Sqrt(float64(len(f.Frames))) / f.Noise.V
	return stats.Known(v, v*f.Noise.Err/f.Noise.V, len(f.Frames))
}
