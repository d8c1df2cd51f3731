// Package worth tells what calibration frames do for the finished stack of a
// group of subs: whether darks are worth shooting, how many bias frames and
// flats are enough, and whether a library of darks still fits the sensor.
//
// Model: sky, dark current and read-out add white noise to each sub, which the
// mean of n subs divides by sqrt n. What is the same in every sub (the sensor's
// dark pattern, its offset pattern, the noise of the master that was taken off)
// is divided by nothing where the subs lie on each other, and by sqrt n where
// dither or drift let no two share a pixel: the subs' own shifts say which.
// Hot pixels are counted where they stand more than five times the stack's
// noise above it, after a rejection that is named. Dither brings them together with other
// pixels of the sensor, hot ones as often as there are, and those that meet hide each other
// from rejection by deviation: k alike among n subs lie √((n-k)(n-1)/nk) standard deviations
// off, which is under 3 up to n = 10k. Glow is smooth light: it is held against the sky and
// against the noise at its own size.
//
// Where no darks tell of the sensor, the subs do: what two interleaved halves have in
// common beyond the sky's smooth structure is its pattern, what stands out in both its hot
// pixels, and what does not move with the sky at the frame's edge its glow.
//
// Darks of another date are held against the subs by what they leave in them, or, where only
// a map of their hot pixels is known, by which of those still stand out.
//
// Each way of correcting subs is a case of its own: darks, a master bias, or
// nothing. A dark holds the offset, so that no bias is taken off beside it.
//
// Sources: noise of a mean and of a mean master, and how far k values alike lie off, are
// identities; Howell, Handbook of CCD Astronomy (2nd ed.) chapter 4 for the terms (from
// memory). That a single outlier among n lies at most (n-1)/sqrt n standard deviations from
// the mean: Shiffler 1988, American Statistician 42, 79 (from memory). Limits of what is
// worth it are common practice, no source.
//
// Not here: interpolation during registration smooths white noise and pattern
// nearly alike and is left out; subs are weighted equally.
package worth

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Input is one group of subs as the questions "are darks worth it?", "how
// many bias frames?" and "enough flats?" need it.
type Input struct {
	Label       string
	Camera      sensor.Mode   // that shot the subs
	Subs        int           // that will be stacked
	Season      int           // the same with those of earlier nights; 0 when not known
	Exposure    float64       // s, of one sub
	TempC       float64       // °C, of the sensor; NaN when not known
	SkyRate     stats.Value   // e-/s per pixel, median of the good subs
	SkyAndDark  bool          // SkyRate holds the dark current too: a bias was taken off, and the dark current is not known
	Gain        stats.Value   // e-/ADU
	ReadNoise   stats.Value   // e-
	Saturation  float64       // ADU, where raw pixels saturate; NaN when not known
	DarkCarried bool          // DarkRate is carried there from the darks' temperature by the usual doubling
	DarkRate    stats.Value   // e-/s per pixel at the subs' temperature
	Sets        []*sensor.Set // all that was measured of calibration frames
	Dark        *sensor.Set   // the dark set nearest to the subs; nil when there is none
	Bias        *sensor.Set   // the bias set that fits; nil when there is none
	Flat        *sensor.Set   // the flat set that fits; nil when there is none
	DarkFits    bool          // Dark fits the subs as it is
	MasterDarks int           // that a found master dark which fits is made of, where there are no single ones; 0 when not known
	MasterTaken bool          // that master is taken off, and no bias lets the subs tell of the sensor without it
	DarksBeside int           // more darks that do, of the other temperatures that the subs' sensor went through
	DarkSpread  float64       // share by which the dark current differs from sub to sub, as their temperatures do
	DarkScales  bool          // Dark does once it is scaled to the subs' exposure above Bias
	BiasFits    bool
	Earlier     *Earlier // what darks of an earlier night showed; nil when none did
	Found       *Found   // what the subs tell of the sensor; nil when they were not asked
	Library     *Library // what the subs tell of darks of an earlier date; likewise
	Places      []Place  // of the subs on the sky, those tied to the reference
	DitherPx    float64  // px rms, NaN when not measured; counts when Places are fewer than two
}

// Earlier is what darks of an earlier night, taken as the subs are, showed of the sensor.
type Earlier struct {
	Pattern stats.Value // e-/s, pixel to pixel
	Glow    stats.Value // e-; missing when they showed none
}

// Correction is a way of taking offset and dark signal off the subs.
type Correction string

// The ways there are.
const (
	ByNothing Correction = "nothing"
	ByBias    Correction = "bias"
	ByDarks   Correction = "darks"
)

// planned is how many subs the stack will hold, earlier nights' counted in.
func (in Input) planned() int { return max(in.Subs, in.Season) }

// framesOf is how many frames of a set are of use, none for no set.
func framesOf(s *sensor.Set) int {
	if s == nil || s.Group == nil {
		return 0
	}
	if s.Combined > 0 {
		return s.Combined
	}
	return len(s.Group.Frames)
}

func (in Input) biases() int {
	if in.BiasFits {
		return framesOf(in.Bias)
	}
	return 0
}

// lit tells that light leaks into the camera's darks, or seems to.
func (in Input) lit() bool {
	return slices.ContainsFunc(in.Sets, func(s *sensor.Set) bool {
		return s.Summary != nil && s.Summary.Mode.Same(in.Camera) && fact.Has(s.Warnings, sensor.DarksSlow)
	}) || fact.Has(in.Dark.Warnings, sensor.DarkGradient)
}

// darks is how many darks are at hand for the subs: none into which light leaks.
func (in Input) darks() int {
	if in.Dark == nil {
		return in.MasterDarks
	}
	if (in.DarkFits || in.DarkScales) && !in.lit() {
		return framesOf(in.Dark) + in.DarksBeside
	}
	return 0
}

// asMany is how many darks of the subs' exposure take off what those at hand do: of others the
// signal above the bias is scaled, and its noise with it.
func (in Input) asMany(s figures) int {
	n := in.darks()
	if in.DarkFits || n == 0 {
		return n
	}
	t, own := in.Exposure, in.Dark.Group.Exposure
	k := t / own
	scaled := k*k*(s.dark*own+s.read*s.read)/float64(n) + (1-k)*(1-k)*s.read*s.read/float64(max(in.biases(), 1))
	return max(1, int(math.Round((s.dark*t+s.read*s.read)/scaled)))
}
