// Package stars holds what is known of star fields: the types that its
// packages below fill (plane, detect, profile, figures, measure) and compare with one
// another (registration, photometry). They work on rectangles of float32 and know
// nothing of files.
//
// Pixel centres are at integers, the first pixel is 0,0, x right, y up the
// rows as stored; angles run counter-clockwise from +x in (-90, 90].
package stars

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Options steers Measure; take DefaultOptions and change what you need.
type Options struct {
	Threshold  float64 `toml:"threshold" min:"3" max:"100" unit:"sigma of the local noise" help:"a star stands this far above the noise after matched filtering"`
	Gain       float64 `toml:"-"` // e-/ADU; NaN when not known
	Saturation float64 `toml:"-"` // level (after subtraction of the offset, before the flat is good enough) at which pixels saturate, in the units of the data; +Inf when not known
	Step       float64 `toml:"-"` // distance between the samples that were recorded, in the units of the data; 0 when not known, or continuous
	Hot        []int32 `toml:"-"` // sorted indices (y*w+x) of pixels never to be trusted
	Bayer      bool    `toml:"-"` // the data is a 2x2 colour mosaic
	Smeared    bool    `toml:"-"` // the data was interpolated: neighbouring pixels share their noise
	Stars      []Place `toml:"-"` // where others of the target show stars, which tell the width; nil: by themselves
	MaxFits    int     `toml:"max_fits" min:"1" max:"100000" help:"most stars of a sub whose profile is fitted"`
}

// DefaultOptions is what the command line starts from.
var DefaultOptions = Options{Threshold: 5, Gain: math.NaN(), Saturation: math.Inf(1), MaxFits: 300}

// Star is one detected star. Lengths in px, fluxes in the units of the data.
type Star struct {
	X, Y               float64
	Flux               float64 // total, above the background
	FluxErr            float64
	Peak               float64 // above the background
	SNR                float64
	FWHM               float64 // geometric mean of the two axes' FWHM
	FWHMErr            float64 // the star's own share of the error: Field.CommonErr comes on top
	Beta               float64 // Moffat exponent
	Ellipticity, Angle float64 // 1-b/a; degrees
	ShapeErr           float64 // of each component of the ellipticity vector (e cos 2 theta, e sin 2 theta)
	HFD                float64 // half-flux diameter: twice the radius that holds half the flux
	OwnFlux            bool    // the flux is by its own pixels; else by the filter's answer, see Field.FilterErr
	Fitted             bool    // the shape above comes from a Moffat fit; else NaN
	Saturated          bool
	Blended            bool
	Knot               bool // plainly wider than the shape that stars have in common: of a galaxy or nebula
}

// Double is what tells that a field's stars are all there twice, or have a tail to one side:
// the pointing jumped during the exposure, or was lost.
type Double struct {
	X, Y  float64     // px, of the fainter images from the brighter ones
	Share stats.Value // of the light in the fainter images, 0 to about 0.5; 0: not doubled; N = stars that show it, or that were asked
}

// Is tells whether the stars are doubled.
func (d *Double) Is() bool { return d.Share.OK() && d.Share.V > 0 }

// Light is the share of the light in second images; 0 where none were found or none could be
// looked for.
func (d *Double) Light() float64 { return max(0, d.Share.Or(0)) }

// Streak is a satellite, aircraft or meteor track.
type Streak struct {
	X0, Y0, X1, Y1 float64
	Width          float64 // px
}

// Distance of a point from the track between its ends, px.
func (t *Streak) Distance(x, y float64) float64 {
	dx, dy := t.X1-t.X0, t.Y1-t.Y0
	along := min(1, max(0, ((x-t.X0)*dx+(y-t.Y0)*dy)/(dx*dx+dy*dy)))
	return math.Hypot(x-t.X0-along*dx, y-t.Y0-along*dy)
}

// Cell is one cell of a field map.
type Cell struct {
	X, Y               float64 // centre, px
	Stars              int
	FWHM               float64 // px, NaN when the cell has too few stars
	Ellipticity, Angle float64
}

// Map is a coarse map of star shape over the field, row by row from y = 0.
type Map struct {
	Cols, Rows int
	Cells      []Cell
}

// Parts is how many parts along each side a field is cut into where light and
// noise are measured part by part.
const Parts = 4

// SkyParts is how many parts along each side a field is cut into where the level of
// its sky is measured: what stands before the telescope is seen against it.
const SkyParts = 8

// Field is what was measured of one sub.
type Field struct {
	Width, Height int
	Sky           stats.Value // level of the background, units of the data
	Noise         stats.Value // robust sd of the star-free residual per pixel
	RandomNoise   stats.Value // sd per pixel of what differs from sub to sub: Noise also holds faint stars and nebula; N = places looked at; without an error where it is a limit, because quantisation hides it
	NoiseParts    []float64   // RandomNoise in Parts x Parts parts of the field, row by row; NaN where there are too few pixels; nil when nothing is known
	SkyParts      []float64   // level of the background in SkyParts x SkyParts parts of the field, row by row; NaN where it is unknown
	ScatterParts  []float64   // sd per pixel about the background in SkyParts x SkyParts parts of the field, over which stars have to stand out: nebulae and the edges of what stands before the field are in it; NaN where it is unknown
	OddRows       stats.Value // by how much odd rows stand above even ones on the background, units of the data: part of Noise and RandomNoise
	OddColumns    stats.Value // the same of columns
	GradientPct   stats.Value // peak to valley of the large-scale background over its level, %
	Stars         []Star      // brightest first; all detected, saturated and blended ones flagged
	Points        []Star      // of a field whose stars may be as sharp as hot pixels, what was left out as these, brightest first: see registration.Moving
	Broad         []Star      // what was left out as broader than a star, brightest first: in a sub of another width it may pass for one
	Count         int         // stars detected
	Saturated     int         // of these, saturated
	Full          bool        // most pixels are saturated: Sky is no measure of the sky; whoever read the pixels says so
	FWHM          stats.Value // px, field median, N = stars behind it
	CommonErr     float64     // error of ln FWHM that all stars share, as they share an exponent
	FluxErr       float64     // error of ln flux that all stars share, by the same exponent
	FilterErr     float64     // and that those without OwnFlux share by their calibration
	Scale         Scale       // of those without OwnFlux
	Growth        Growth      // of the light of all with the aperture
	HFD           stats.Value // px
	Ellipticity   stats.Value
	Angle         stats.Value // degrees, of the mean ellipticity vector
	Coherence     stats.Value // length of the mean ellipticity vector over the mean ellipticity
	Halo          stats.Value // light in halos around the stars, over that in the stars; N = stars behind it
	Defocused     bool        // ring-shaped images: only HFD is meaningful
	Double        Double      // whether the stars are there twice; the fainter images are left out of Stars
	Streaks       []Streak
	Map           Map
	Notes         []fact.Fact
}

// Scale is what brought the filter's answers to stars to all of their light: their profile
// tells most of it, and their pixels what they hold beyond. Its error is Field.FilterErr.
type Scale struct {
	Exponent   stats.Value // 1/beta of the profile; N = stars behind it, 0: it tells nothing of the scale
	LightErr   float64     // of ln of the light by the profile, that the exponent's error makes, with its sign
	ProfileErr float64     // of the same, the stars' own
	Beyond     float64     // ln of the light that pixels hold over it
}

// Growth is by how much ln of the light of bright stars is more where it is summed farther out,
// to so many times the aperture; N = stars behind it.
type Growth struct {
	Aperture float64 // px, the radius within which light was summed; 0: none was
	Ln       [len(GrowthTimes)]stats.Value
}

// GrowthTimes are how many times as wide the wider apertures are.
var GrowthTimes = [...]float64{math.Sqrt2, 2}

// CrowdedFrom is the share of a field that images fill, each as the square of its FWHM, from
// which on as many again are merged already, more or fewer of them with every change of the
// seeing: wide ones may be several stars.
const CrowdedFrom = 0.03

// Systematic is the part of a flux that no photon noise explains: flat field,
// blends, pixel phase. It keeps a few bright stars from deciding alone (common
// practice, no source).
const Systematic = 0.02

// QuantisedNoise tells whether steps between samples hide the noise, of which only a limit
// is known: what is rounded off stars of such a field is rounded off all of them alike.
func (f *Field) QuantisedNoise() bool { return f.RandomNoise.V > 0 && math.IsNaN(f.RandomNoise.Err) }

// Missing fills every figure with one reason.
func (f *Field) Missing(why fact.Fact) {
	none := stats.Because(why)
	f.Sky, f.Noise, f.RandomNoise, f.GradientPct, f.OddRows, f.OddColumns = none, none, none, none, none, none
	f.noStars(why)
}

// NoStars fills every figure that needs stars with one reason.
func (f *Field) NoStars(why fact.Code) {
	f.noStars(fact.Of(why))
}

func (f *Field) noStars(why fact.Fact) {
	none := stats.Because(why)
	f.FWHM, f.HFD, f.Halo, f.Ellipticity, f.Angle, f.Coherence, f.Double.Share = none, none, none, none, none, none, none
}
