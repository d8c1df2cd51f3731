package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// A single frame of whole numbers that nothing names may be raw, or combined from
// many. Where other frames tell the noise of a raw one, its own shows in neighbouring
// pixels, to which fixed pattern only adds: far less is that of a master. About as
// much is raw where the pattern is small, as that of bias frames is, and that of
// flats where another filter's take it out. Else nothing that rests on it being raw is said.

// claimedShare is what stack.CalmShare is where only headers claim the gain or the read
// noise: claims for samples of another number of bits are off by a factor of 4.
const claimedShare = stack.CalmShare / 4

// rawFrom and rawTo bound the variance of a raw bias frame's neighbours over that of
// the noise: its pattern adds less than half.
const rawFrom, rawTo = 0.9, 1.5

func single(reason fact.Code) []fact.Fact {
	return []fact.Fact{fact.Of(SingleFrame, fact.Reason(fact.Of(reason)))}
}

// judgeLone takes single bias frames and flats for what their noise shows.
func (cs *Cameras) judgeLone() {
	for _, b := range cs.biases {
		if b.ok() && len(b.group.Frames) == 1 && !b.group.Frames[0].Master {
			b.judge(cs)
		}
	}
	for _, f := range cs.flats {
		if f.ok() && len(f.group.Frames) == 1 && !f.group.Frames[0].Master {
			f.judge(cs)
		}
	}
}

// judge holds a single bias frame against the read noise that other frames tell.
func (b *biasRun) judge(cs *Cameras) {
	read, share := cs.rawReadNoise(b)
	ratio := math.NaN() // noise of less than a step is no measure
	if pixels := b.master.Pixels(); read.OK() && read.V >= b.Step && !CutAtZero(pixels) {
		own := SpatialNoise(pixels, b.group.Width)
		ratio = own * own / (read.V * read.V)
	}
	switch {
	case ratio < share:
		b.lone = single(LoneMaster)
		cs.Combined = append(cs.Combined, b.group)
		b.Noise = stats.Missing(LoneMaster)
		b.readNoise, b.pattern = b.Noise, b.Noise
		b.row.ratio, b.col.ratio = b.Noise, b.Noise
	case ratio > rawFrom && ratio < rawTo:
		b.left = read
	default:
		b.lone = single(LoneUnknown)
		cs.Unsure = append(cs.Unsure, b.group)
	}
}

// CutAtZero tells of samples so many of which are cut at 0 that their noise is less
// than the camera's.
func CutAtZero(pixels []float32) bool { return stats.Quantile(pixels, stack.CutShare) <= 0 }

// rawReadNoise is the noise of one raw bias frame, ADU, by other bias frames of the
// camera's read-out, its darks, or earlier nights and headers; and the share of its
// variance under which a frame is a master.
func (cs *Cameras) rawReadNoise(b *biasRun) (read stats.Value, share float64) {
	for _, o := range cs.biases {
		if o.ok() && o.Noise.OK() && sameMode(o.group, b.group) {
			return o.Noise, stack.CalmShare
		}
	}
	if v := cs.readNoiseOfDarks(b.group); v.OK() {
		return v, stack.CalmShare
	}
	m := cs.modeOf(b.group)
	if m.gainFrom == "header" || !measured(m.readNoise) {
		return m.readNoise, claimedShare
	}
	return m.readNoise, stack.CalmShare
}

// sameMode tells whether two groups share all that a read noise rests on; an unknown
// gain is none of the others.
func sameMode(a, b *frames.Group) bool { return SameReadout(a, b) && ModeOf(a).Same(ModeOf(b)) }

// measured tells whether a figure was measured: claims have no error.
func measured(v stats.Value) bool { return v.OK() && !math.IsNaN(v.Err) }

// readNoiseOfDarks is what the variance of darks of two exposures comes to at none:
// the dark current's shot noise grows with the exposure, whatever becomes of its level.
func (cs *Cameras) readNoiseOfDarks(g *frames.Group) stats.Value {
	var short, long *darkRun
	for _, d := range cs.darks {
		if !d.ok() || !d.Noise.OK() || !sameMode(d.group, g) {
			continue
		}
		if short == nil || d.group.Exposure < short.group.Exposure {
			short = d
		}
	}
	for _, d := range cs.darks {
		if short == nil || !d.ok() || !d.Noise.OK() || !sameMode(d.group, g) || !(math.Abs(d.temperature-short.temperature) <= cs.opt.TempTolC) {
			continue
		}
		if d.group.Exposure >= 2*short.group.Exposure && (long == nil || d.group.Exposure > long.group.Exposure) {
			long = d
		}
	}
	if long == nil {
		return stats.Missing(NoTwoExposures)
	}
	v1, v2 := short.Noise.V*short.Noise.V, long.Noise.V*long.Noise.V
	t := short.group.Exposure / (long.group.Exposure - short.group.Exposure)
	v := v1 - t*max(v2-v1, 0)
	err := 2 * math.Hypot((1+t)*short.Noise.V*short.Noise.KnownErr(), t*long.Noise.V*long.Noise.KnownErr())
	if !(v > 5*err) {
		return stats.Missing(NoiseOfCurrent)
	}
	return stats.Known(math.Sqrt(v), err/2/math.Sqrt(v), short.Noise.N+long.Noise.N)
}

// judge holds a single flat against the shot noise of its light. Where the offset
// is not known half of the level is surely light; too near saturation there is less
// noise than that.
func (f *flatRun) judge(cs *Cameras) {
	m := cs.modeOf(f.group)
	level, light, share := f.shots[0].level, f.shots[0].light, stack.CalmShare
	if f.offsetFrom.Code == "" {
		light = level / 2
	}
	if m.gainFrom == "header" {
		share = claimedShare
	}
	ratio, even := math.NaN(), false
	if m.gain.OK() && !(level > brightTop*m.saturation) {
		own, evened := f.ownVariance(cs)
		ratio, even = own/(light/m.gain.V), evened
	}
	switch {
	case ratio < share:
		f.lone = single(LoneMaster)
		cs.Combined = append(cs.Combined, f.group)
		f.prnu, f.snr = stats.Missing(LoneMaster), stats.Missing(LoneMaster)
	case even && m.gainFrom != "header" && ratio > rawFrom && ratio < rawTo: // raw
	default:
		f.lone = single(LoneUnknown)
		cs.Unsure = append(cs.Unsure, f.group)
	}
}

// ownVariance is what a single flat's noise is at most, ADU²: of its neighbours, as
// they are or divided by the most flats of another filter, which takes out most of
// what pixels differ by, and puts in noise that is known.
func (f *flatRun) ownVariance(cs *Cameras) (v float64, evened bool) {
	pixels, err := cs.stacker.Raw(f.group.Frames[0], f.group.Width, f.group.Height)
	if err != nil || len(pixels) == 0 {
		return math.NaN(), false
	}
	noise := SpatialNoise(pixels, f.group.Width)
	v = noise * noise
	o := f.otherFilter(cs)
	if o == nil {
		return v, false
	}
	for i, r := range o.master.Pixels() {
		pixels[i] = (pixels[i] - float32(f.offset)) / r
	}
	noise = SpatialNoise(pixels, f.group.Width)
	put := f.shots[0].light * o.Noise.V / flatScale
	if w := noise*noise - put*put/float64(len(o.Frames)); w < v {
		return max(w, 0), true
	}
	return v, false
}

// otherFilter is the set of most flats, of known noise, among the others of the mode;
// nil when there is none.
func (f *flatRun) otherFilter(cs *Cameras) *flatRun {
	var best *flatRun
	for _, o := range cs.flats {
		if o != f && o.ok() && o.Noise.OK() && sameMode(o.group, f.group) && (best == nil || len(o.Frames) > len(best.Frames)) {
			best = o
		}
	}
	return best
}

// SpatialNoise is by what a pixel is off the mean of its neighbours of one colour in
// its row, over sqrt(3/2): noise and pattern, without slopes and without hot pixels.
func SpatialNoise(pixels []float32, width int) float64 {
	const most = 200_000
	step := max(1, len(pixels)/most)
	var d []float64
	for i := 0; i+4 < len(pixels); i += step {
		if i%width < width-4 {
			d = append(d, float64(pixels[i+2]-(pixels[i]+pixels[i+4])/2))
		}
	}
	return stats.SigmaClip(d, 4, 20).SD / math.Sqrt(1.5)
}
