package frames

import (
	"math"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// Kind is what a frame was shot for.
type Kind string

// The kinds of frame. A dark shot to match a flat counts as Dark.
const (
	Unknown Kind = ""
	Bias    Kind = "bias"
	Dark    Kind = "dark"
	Flat    Kind = "flat"
	Light   Kind = "light"   // a sub
	Product Kind = "product" // made from frames, or no picture at all: Frame.Product says what; never measured
)

// KindSource is where the kind of a frame was learnt.
type KindSource string

// The sources of a kind, in order of preference.
const (
	KindFromHeader KindSource = "header"
	KindFromFolder KindSource = "folder name"
	KindFromName   KindSource = "file name"
	KindFromPixels KindSource = "pixels and exposure"
)

// Frame is one file that claims to be FITS.
type Frame struct {
	Path    string // opens the file from the current folder
	Name    string // slash-separated path below the scanned folder (with the folder's own name in front when several were scanned); unique in a scan; may hold any byte
	Size    int64  // bytes on disk
	ModTime time.Time

	Image Layout // shape of the first image
	Meta  Meta

	Kind       Kind
	KindSource KindSource
	Master     bool // already combined from several exposures, or a calibration frame already calibrated: kept apart, never measured as a single exposure

	standsIn  bool      // a short dark that is used as a bias
	Disputed  bool      // it shows stars, and header or name call it calibration: of no kind
	Product   fact.Code // what a frame of kind Product is: BadPixelMap to CutFromSub; "" for others
	Resampled bool      // neighbouring pixels share their noise: aligned or otherwise interpolated, no raw frame

	Findings []fact.Fact // what is odd about the file; texts are safe to print
	Err      error       // why the frame cannot be used: *FormatError, *UnsupportedError, *TruncatedError or an I/O error; nil when it can be read

	folders    []string // names of the folders that lead to the file, the outermost first
	maxBytes   int64    // cap on the decoded image, from ScanOptions
	zeroAdded  float64  // to BZERO, which is left over from a conversion, or lost; see settleZeros
	parts      float64  // what the samples were divided by; 0: nothing
	headerKind string   // what the header calls it
	objectKind Kind     // what it calls it in the target's place
	dispersed  bool     // an axis is a wavelength, by the header
	zeroOpen   bool     // BZERO may be left over: the camera's other frames decide
	zeroLost   bool     // or lost, likewise
	look       look     // what a few rows of pixels show
}

// Layout is the shape and coding of the image to be read.
type Layout struct {
	Width, Height int    // px
	Planes        int    // 1, or 3 for a colour cube
	Bitpix        int    // of the stored samples, as the FITS standard counts: 8, 16, 32, 64, -32, -64
	Compression   string // "", "gzip", "RICE_1", ...
	Unpacking     int64  // bytes that are held beside the samples while it is unpacked
}

// bytesPerPixel is what measuring takes for each pixel of a plane at most: of a
// calibration set a map of 4 bytes, three frames of 2, garbage, as measured with 12 to
// 61 megapixels; of a sub less, the sample as 4 bytes, masks, garbage.
const bytesPerPixel = 11

// workBytes is the least memory that measuring the image takes.
func (l Layout) workBytes() int64 { return int64(l.Pixels())*bytesPerPixel + l.Unpacking }

// Pixels is how many pixels one plane has.
func (l Layout) Pixels() int { return l.Width * l.Height }

// Meta is what the header tells, normalised. A number the header lacks is NaN,
// a text it lacks is "", a time it lacks is the zero time.
type Meta struct {
	Exposure  float64   // s
	Start     time.Time // UTC, start of exposure, as the header has it; see StartZoned
	Filter    names.Name
	Target    names.Name
	Camera    names.Name
	Telescope string

	TargetFromFolder bool    // the header names no target
	Combined         int     // frames that it was made of, 0 when the header does not say
	Pedestal         float64 // ADU, that a program added to the samples, as the header claims, of either sign; 0 when it does not say
	Overscan         bool    // the header names columns or rows of overscan in the file
	SampleBits       float64 // of the converter, as the header claims

	GainSetting     float64    // the camera's own gain number
	OffsetSetting   float64    // the camera's own offset number
	ReadoutMode     names.Name // the camera's mode of reading out; "" also where the frames of its camera tell of one only
	ElectronsPerADU float64    // e-/ADU as the header claims
	ReadNoise       float64    // e- as the header claims
	SensorTemp      float64    // °C, measured
	SetTemp         float64    // °C, asked for
	BinX, BinY      int        // 1 when the header is silent
	binTold         bool       // it is not

	PixelSize   float64 // µm, of a binned pixel as read out
	FocalLength float64 // mm
	Aperture    float64 // mm
	HeaderScale float64 // arcsec per pixel as the header claims

	StartZoned  bool    // the header settles that Start is UTC: by a zone behind it or a card of UTC beside it
	exposureKey string  // of Exposure's card where no unit is told; "" otherwise
	between     slashed // what the date of Start tells of its order, until the other frames settle it
	Zone        float64 // h that the observer's clock is ahead of UTC, as a card has it: some count west as positive
	Altitude    float64 // degrees, of the target, as the header claims
	HourAngle   float64 // degrees, west positive, likewise
	Sidereal    float64 // degrees, local, likewise

	RA, Dec          float64 // degrees, J2000 or of date, as the header has it
	SiteLat, SiteLon float64 // degrees, north and east positive
	SiteElevation    float64 // m
	RABare           bool    // RA is a number under 24 without a unit, which may be hours
	LonSettled       bool    // the header settles which way SiteLon counts
	PierSide         string  // "east", "west" or ""
	Rotator          float64 // degrees
	RotatorOnSky     bool    // Rotator is a position angle on the sky: the header has none of the rotator itself
	FocusPosition    float64 // steps
	AmbientTemp      float64 // °C, focuser or air
	Airmass          float64 // as the header claims
	SkyZeroPoint     float64 // mag that gives 1 ADU/s, as the header claims

	Bayer          string // "RGGB", "BGGR", "GRBG", "GBRG", or "" for mono: from the first pixel that Read delivers, the header's offsets allowed for
	DarkSubtracted bool   // the header's history says that a bias or dark was taken off already
}

// Section is a rectangle of pixels, half open, counted from 0: x in [X0,X1), y in [Y0,Y1). Empty when X1 <= X0.
type Section struct{ X0, Y0, X1, Y1 int }

func (s Section) empty() bool { return s.X1 <= s.X0 || s.Y1 <= s.Y0 }

// NoMeta is metadata of which nothing is known.
func NoMeta() Meta {
	nan := math.NaN()
	return Meta{
		Exposure: nan, GainSetting: nan, OffsetSetting: nan, ElectronsPerADU: nan, ReadNoise: nan,
		SensorTemp: nan, SetTemp: nan, BinX: 1, BinY: 1,
		PixelSize: nan, FocalLength: nan, Aperture: nan, HeaderScale: nan,
		SampleBits: nan, Zone: nan, Altitude: nan, HourAngle: nan, Sidereal: nan, RA: nan, Dec: nan, SiteLat: nan, SiteLon: nan, SiteElevation: nan,
		Rotator: nan, FocusPosition: nan, AmbientTemp: nan, Airmass: nan, SkyZeroPoint: nan,
	}
}

// PixelScale is the angle a pixel spans in arcseconds: from pixel size and
// focal length, else as the header claims, else NaN. 206.264806 is arcseconds
// per radian over 1000 (µm per mm).
func (m Meta) PixelScale() float64 {
	if !(m.FocalLength > 0) || !(m.PixelSize > 0) {
		return m.HeaderScale
	}
	return 206.264806 * m.PixelSize / m.FocalLength
}

func (f *Frame) base() string { return f.Name[strings.LastIndexByte(f.Name, '/')+1:] }

// Processed tells that a light is no raw frame: its neighbouring pixels share their
// noise, or its header says that bias or dark were taken off. Calibration is not
// applied to it once more.
func (f *Frame) Processed() bool { return f.Kind == Light && (f.Resampled || f.Meta.DarkSubtracted) }
