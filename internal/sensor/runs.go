package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// astray is by how much the sensor of a bias set was off its set point, °C,
// beyond what counts as there.
func (b *biasRun) astray() float64 {
	if d := math.Abs(b.group.Temperature() - b.group.SetTemp); d > 0 {
		return d
	}
	return 0 // there, or not known
}

// biasRun is a bias set on its way: everything in ADU, electrons come when the
// gain is known.
type biasRun struct {
	*stack.Series
	group     *frames.Group
	master    *stack.Plane // nil when nothing could be measured
	why       fact.Fact    // why nothing could be measured
	offset    stats.Value
	readNoise stats.Value
	corrected bool        // quantisation was taken off
	lone      []fact.Fact // of a single frame that is not known to be raw, what is
	left      stats.Value // ADU, noise of a single frame by others of the camera
	pixel     pixelNoise
	pattern   stats.Value
	row, col  banding
	clipped   stats.Value
	enough    float64 // ADU, an offset at which nothing is cut; 0 when it is enough
	drift     stats.Value
	detail    *Bias
	ramp      float64 // ADU, of the offset across the frame
	darkShare float64 // of the frames' variance, what the dark current of their own exposure makes
	unstable  float64 // ADU, by how much the level of any frame, outliers too, was off the median at most
	kept      float64 // ADU, of a lent master: by what its pixels differ from their neighbours
	atMost    float64 // ADU, of a lent master: what the noise of one of its frames is at most; 0 for frames of this run
}

func (b *biasRun) ok() bool { return b.why.Code == "" && b.Series.OK() }

// darkRun is a dark set on its way: everything in ADU.
type darkRun struct {
	*stack.Series
	group   *frames.Group
	master  *stack.Plane // nil when nothing could be measured
	why     fact.Fact    // why nothing could be measured
	bias    *biasRun     // whose master was taken off; nil for none
	biasWhy fact.Fact    // why there is none
	ref     *darkRun     // without bias: darks of another exposure, taken off in its place; nil for none
	stretch float64      // by what the difference to bias or ref is multiplied to make the dark signal of the exposure: 1 with a true bias

	middle      float64     // ADU, level of the median pixel; with a bias, of the mean
	ramp        stats.Plane // through the coarse map, ADU
	cellNoise   float64     // ADU, of a cell of it
	sampling    float64     // ADU, error of the median from the pixels' spread
	mean        float64     // mean dark signal, ADU
	uneven      float64     // by how much the mean of the pixels that are not hot is above their median, ADU
	signal      stats.Value // median dark signal above the bias, ADU
	nonUniform  stats.Value // ADU
	glow        glow
	leak        stats.Value // %
	leakNote    fact.Fact
	hot         []int32
	detail      *Dark
	series      *ExposureSeries // the exposures it is one of
	temperature float64         // °C, of the sensor, else as set
	hotByShot   bool            // the limit is that of the shot noise, not of the pixels' spread
}

func (d *darkRun) ok() bool { return d.why.Code == "" && d.Series.OK() }

// flatRun is a flat set on its way. Its stack holds the frames with the offset
// taken off and scaled to one level.
type flatRun struct {
	*stack.Series
	group  *frames.Group
	master *stack.Plane // nil when nothing could be measured
	why    fact.Fact

	offset     float64          // ADU
	offsetFrom fact.Fact        // OffsetOfBias to OffsetOfMasterDark; no code when there was nothing to take off
	byDarks    bool             // by the level of darks longer than the flats
	ownDark    bool             // dark signal that nothing tells may be in the light
	readVar    float64          // ADU², of one frame without light
	readVarErr float64          // its error, where only a lent master tells it
	baseVar    float64          // ADU², of what was taken off; 0 where it is not known
	raw        *stats.Histogram // samples of all frames, in rawUnit
	rawUnit    stack.Scale
	top        float64 // sample in rawUnit above which a mean is cut by saturation
	full       float64 // ADU, light from which on pixels are full
	points     []TransferPoint
	noises     []pairNoise
	copies     []*frames.Frame // left out
	shots      []flatShot      // every flat that was read, brightest exposures first
	used       []flatShot      // those of the master
	shutter    shutter
	short      int // flats left out of the master for the shutter's travel
	prnu       stats.Value
	firstLevel float64 // mean of the colour that a mosaic begins with, over the light that the flats are scaled by
	flicker    stats.Value
	snr        stats.Value
	corner     stats.Value
	shadowN    stats.Value
	lone       []fact.Fact // of a single flat, what is known of its being a master
	detail     *Flat
}

type flatShot struct {
	frame  *frames.Frame
	middle float64   // median sample, in rawUnit
	level  float64   // ADU, offset included
	light  float64   // ADU, above the offset
	shape  []float64 // of the light over the frame, as logarithms; nil where nothing is to be told by it
}

type shutter struct {
	travel float64   // s, by how much longer the part that is open longest is open than the one that is so shortest
	like   fact.Code // what would make the same shape as well; no code where nothing would
}

func (f *flatRun) ok() bool { return f.why.Code == "" && f.Series.OK() }

// pairNoise is the noise of a pixel of two flats over its light.
type pairNoise struct {
	x, y  *frames.Frame
	light float64 // ADU
	noise float64 // of a pixel, as a share of it
}

// glow is light from the camera's own electronics: how far the highest cell of
// the coarse map stands above the middle one.
type glow struct {
	height stats.Value // ADU
	x, y   stats.Value // px
	place  fact.Code   // of the highest cell; "" when there is none
	cell   int         // its place in the map
}

type mode struct {
	Mode

	gain           stats.Value // e-/ADU, the one used
	gainFrom       string      // "measured", "memory", "header" or ""
	gainWhen       age         // of the remembered one
	claimedFor     float64     // ADU that the header's gain is for, by the subs; NaN where that is not told, or not asked
	readNoiseFrom  []fact.Fact // where a read noise that was not measured is from
	lawWhen        age         // of a remembered temperature law
	measured       stats.Value // e-/ADU from flats
	header         float64     // e-/ADU, median of what headers claim
	readNoise      stats.Value // ADU
	saturation     float64     // ADU; NaN when not known
	saturationFrom []fact.Fact // how it is known

	transfer    []TransferPoint
	fit         stats.Line  // variance against signal
	curvature   stats.Value // %
	peakAt      float64     // ADU, signal at which the variance is highest
	fallenAt    float64     // ADU, signal from which it has fallen; infinite where it does not
	bendPct     float64     // by which the variance for the light falls up to the brightest flats; 0: it does not
	brightGain  bool        // measured by flats brighter than where the sensor is surely linear
	series      []ExposureSeries
	law         TemperatureLaw
	thermometer float64 // °C, its step

	oldRate, oldEnergy stats.Value // of an earlier night: e-/s at 0 °C, eV
}

// above tells whether the map is of dark signal alone.
func (d *darkRun) above() bool { return d.bias != nil || d.ref != nil }

// noiseOfOne is the noise of one frame of the set, ADU, by others of the camera where
// it is a single raw one; else why what it leaves is not known.
func (b *biasRun) noiseOfOne() stats.Value {
	if len(b.Frames) == 1 && b.lone == nil && b.left.N > 0 {
		return b.left
	}
	return b.Noise
}
