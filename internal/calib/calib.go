// Package calib has the calibration frames of a run measured (package sensor), says
// which of them fit which subs, and builds the masters that the subs are corrected
// with.
//
// Model: what fits shares camera, size, binning, gain and offset as far as the
// headers tell; darks exposure and temperature too, bias frames the temperature
// within 5 °C, flats filter and rotator; where a sensor without a set point drifted, darks of all
// temperatures that the subs had count together. A dark of another exposure is scaled above a
// bias, at most doubled. Masters that some program made are taken where they are in
// ADU with their offset, or can be brought to that; else they are refused with a
// reason; a sum is divided by its frames where its header counts them, one in steps
// of the converter multiplied by them where the subs' samples were scaled up. A master is the plain mean (package stack); masters are not weighted, and
// non-linearity is reported, not corrected.
package calib

import (
	"sync"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Options steers Analyse; take DefaultOptions and change what you need.
type Options struct {
	Workers     int                   `toml:"-"`
	TempTolC    float64               `toml:"temp_tolerance" above:"0" max:"100" unit:"°C" help:"a dark or bias fits a sub when their temperatures differ by no more"`
	ExposureTol float64               `toml:"exposure_tolerance" min:"0" below:"1" help:"and their exposures by no more than this fraction"`
	HotSigma    float64               `toml:"hot_sigma" min:"3" max:"1000" unit:"robust sigma" help:"a hot pixel stands this far above the median dark rate, or more"`
	Maps        bool                  `toml:"maps" help:"also write the hot pixels of each dark set, as a list and as a FITS mask"` // else the 1000 hottest of each set are kept
	Masters     bool                  `toml:"-"`                                                                                    // the masters are to be written: nothing is recalled, and all hot pixels are listed
	Progress    func(done, total int) `toml:"-"`                                                                                    // called from one goroutine at a time; may be nil

	// Remembered are figures of the cameras from earlier nights, for modes whose own
	// frames do not tell them; may be nil.
	Remembered []sensor.Remembered `toml:"-"`

	// Room is where masters are kept; nil: in memory. Memory is how many bytes the
	// work on one set may take; 0: any.
	Room   *stack.Room `toml:"-"`
	Memory int64       `toml:"-"`

	// Read is how a frame is read; nil: Frame.Read. Tests put frames made in memory here.
	Read func(*frames.Frame, *frames.Image) error `toml:"-"`
}

// DefaultOptions is what the command line starts from.
var DefaultOptions = Options{Workers: 2, TempTolC: 1, ExposureTol: 0.01, HotSigma: 5}

// Result is everything that the calibration frames tell.
type Result struct {
	Sets     []*sensor.Set
	Coverage []Coverage

	analysis *analysis                   // masters and figures that For hands out
	restored map[*frames.Group]*restored // or, of a snapshot, the same by group of subs
}

// Coverage says, for one group of subs, which calibration frames fit.
type Coverage struct {
	Lights           *frames.Group
	Bias, Dark, Flat Match
}

// Match is how well one kind of calibration frame covers a group of subs.
type Match struct {
	Group *frames.Group // the best candidate; nil when there is none at all
	Fit
}

// Fit is a Match without its frames.
type Fit struct {
	Kind   frames.Kind
	Fits   bool
	Count  int  // frames behind it; of a master those that it was made of, -1 when that is not known
	Frames int  // in the folder
	Master bool // the one frame is a master
	Unsure bool // whether the one frame is raw or a master is not known
	Beside int  // darks among Count of the other temperatures that the subs' own sensor went through

	Mismatches []Mismatch // why it does not fit
	Unknown    []Property // that a header lacks

	Unusable  fact.Fact // there are some, of which none can be used, and why
	Processed bool      // the subs were calibrated or aligned before: none is applied
}

// Calibration is what can be applied to the subs of one group.
type Calibration struct {
	Flattened bool // there is a flat
	// HasOffset tells that what is subtracted removes the camera's offset, so that
	// a sky level above it is meaningful.
	HasOffset   bool
	DarkTaken   bool        // it removes the dark current too
	Hot         []int32     // sorted pixel indices (y*width+x) of hot pixels; nil when no dark tells
	Gain        stats.Value // e-/ADU, measured, else the header's, else missing
	ReadNoise   stats.Value // e-
	Saturation  float64     // ADU of the raw frame where samples saturate: seen, or known by the step between samples; NaN when not known
	DarkRate    stats.Value // e-/s at the subs' usual temperature, measured or extrapolated
	OffsetMoved float64     // ADU, by which the dark lies above the subs' offset, and which was taken off it
	Warmth      Warmth      // how that changes with a sub's own

	Processed bool // the subs are no raw frames, and nothing is applied to them
	Overscan  bool // the subs' files hold overscan, which is not used

	planes Planes
	late   func() Planes // of a snapshot: where they come from when they are needed
}

type analysis struct {
	opt     Options
	stacker *stack.Stacker

	cameras *sensor.Cameras
	lights  []*frames.Group
	darks   []*frames.Group                 // of raw frames
	ready   map[frames.Kind][]*frames.Group // masters found in the folder, groups of one

	adopted []*frames.Group             // masters that no header calls so
	mended  []*frames.Group             // master darks whose bias was added again
	stepped []*frames.Group             // master bias frames that were brought from steps of the converter to the subs' samples
	refused map[*frames.Group]fact.Fact // masters that cannot be used, and why

	mu      sync.Mutex // guards masters and scaled
	masters map[*frames.Group]*stack.Plane
	scaled  map[scaling]*stack.Plane

	askedSubs bool // what is applied rests on pixels of subs
}

// scaling is a dark whose signal above a bias is brought to another exposure; without a
// bias, one whose offset is lowered by so much.
type scaling struct {
	dark, bias *frames.Group
	factor     float64
}

// restored is what a snapshot knows of a group of subs.
type restored struct {
	calibration Calibration
	sets        map[frames.Kind]*sensor.Set
}

// Planes are the masters that are applied to a group of subs; nil where there is
// none.
type Planes struct {
	Subtract *stack.Plane // dark or bias, ADU; a bias in place of a dark that is missing
	Flat     *stack.Plane // divided by its mean
}

// Property is what calibration frames and subs must have in common.
type Property string

// The properties.
const (
	OfCamera      Property = "camera"
	OfBinning     Property = "binning"
	OfSize        Property = "size"
	OfGain        Property = "gain"
	OfOffset      Property = "offset"
	OfReadout     Property = "read-out mode"
	OfFilter      Property = "filter"
	OfRotation    Property = "rotation"
	OfExposure    Property = "exposure"
	OfTemperature Property = "temperature"
)

// Mismatch is a property in which calibration frames differ from the subs.
type Mismatch struct {
	Property     Property
	Frames, Subs string  // what they have, with the unit
	By           float64 // how far apart they are: °C, the ratio of exposures as a logarithm; else NaN
	Limit        float64 // how far they may be, °C, or a share of the exposure; NaN: not at all
}
