package sensor

import (
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Counts is a histogram with a scale: bin i holds values around Offset + (Min+i) Unit.
type Counts struct {
	*stats.Histogram
	Unit   float64 // of the figure's axis per whole number
	Offset float64
}

// Bias is what a set of bias frames tells: its figures, and what they are drawn
// from, in ADU.
type Bias struct {
	Offset, ReadNoiseADU, ReadNoise                Figure
	PixelNoiseMedian, PixelNoiseRMS, PixelNoiseP99 Figure
	NoisyPixels, FixedPattern                      Figure
	RowBanding, ColumnBanding                      Figure
	Clipped, Drift, Outliers                       Figure
	MasterNoise, SampleStep                        Figure

	Frames     []stack.FrameLevel
	Diff       Counts          // differences of adjacent frames, each pair's mean taken off; its width is the read noise times sqrt 2
	Pairs      []float64       // read noise of every adjacent pair, quantisation included
	RawNoise   stats.Value     // read noise before quantisation was taken off
	PixelNoise Counts          // how many pixels have which noise; nil histogram under 8 frames
	Masters    []MasterNoise   // of how many frames which noise
	TempSlope  stats.Value     // level against sensor temperature, ADU/°C
	Planes     []PlaneLevel    // colour mosaics only
	Master     *frames.Preview // the master, small
}

// MasterNoise is the noise of a master made of N frames.
type MasterNoise struct {
	N        int
	ADU      float64
	Electron float64 // e-; NaN when the gain is not known
}

// PlaneLevel is one colour plane of a mosaic.
type PlaneLevel struct {
	Name  string  // "R", "G1", "G2", "B"
	Level float64 // ADU
}

// Dark is what a set of darks tells: its figures, and what they are drawn from.
type Dark struct {
	Current, CurrentByNoise, Intercept    Figure
	CurrentMean, CurrentADU               Figure
	HotPixels, HotFraction, HotThreshold  Figure
	Nonuniformity                         Figure
	GlowHeight, GlowX, GlowY, LightLeak   Figure
	TemperatureOffset, TemperatureScatter Figure

	Frames    []stack.FrameLevel
	Rates     Counts     // how many pixels have which rate, ADU/s
	Threshold float64    // rate above which a pixel is hot, ADU/s
	Hot       []HotPixel // sorted by y, then x; the 1000 hottest unless Options.Maps
	HotCount  int
	HotRates  []HotRate   // of every pixel that stands above the noise of the master, hot or only warm
	Noise     stats.Value // of one frame, ADU: read-out and the shot noise of the dark current
	Uneven    float64     // ADU, non-uniformity, or the limit under which it lies; NaN when neither is known
	RateUnit  string      // of Hot: "e-/s", or "ADU/s" when the gain is not known
	ColdCount int         // pixels that stand as far below the median as a hot one above it; as many jump above it
	Glow      stats.Map   // dark signal on a coarse grid (cells' medians), ADU above its floor
	GlowPlace fact.Code   // where the glow is: LowerLeft to Inside; "" when there is none
	Master    *frames.Preview
}

// HotRate is how many pixels stand about so far above their surroundings.
type HotRate struct {
	Above float64 // in Dark.RateUnit
	N     int
}

// HotPixel is one hot pixel: position from 0,0 and dark rate.
type HotPixel struct {
	X, Y int
	Rate float64 // in Dark.RateUnit
}

// Flat is what a set of flats tells: its figures, and what they are drawn from.
type Flat struct {
	Level, Saturated, Gain, Response  Figure
	CornerFalloff, Dust, Flicker, SNR Figure

	Frames       []stack.FrameLevel
	Points       []TransferPoint // one an adjacent pair of frames
	Illumination stats.Map       // of the master flat, relative to its brightest cell
	CornerPct    [4]float64      // light lost in each corner, %: lower left, lower right, upper left, upper right
	Shadows      []dust.Shadow
	Dead         []DeadPixel // those that give less than half the light of their surroundings, by y, then x; 1000 at most
	Unlit        float64     // share of the pixels without light
	DriftPct     stats.Value // change of level from first to last frame, % (twilight, lamp)
	Master       *frames.Preview
}

// DeadPixel is a pixel that hardly answers to light.
type DeadPixel struct {
	X, Y     int
	Response float64 // its light over that of its surroundings
}

// TransferPoint is one point of the photon transfer curve.
type TransferPoint struct {
	Set      string      // label of the flat set it comes from
	Signal   float64     // ADU above the offset, mean
	Variance float64     // ADU², of one frame, read noise taken off
	Err      float64     // of the variance
	Gain     stats.Value // e-/ADU, by two flats and two biases
	Exposure float64     // s
	Residual float64     // variance minus the fit, ADU²; NaN before the curve is fitted
	Fitted   bool        // lies where the line was fitted, below 70 % of saturation

	shared float64 // relative error of the gain that all points have in common: of offset and read noise
	plane  int     // of a colour mosaic
	of     [2]*frames.Frame
}

// Camera is what all frames of a camera's mode tell: its figures, and what they are
// drawn from.
type Camera struct {
	Gain, ReadNoise, FullWell, Saturation     Figure
	DynamicRange, LinearityError              Figure
	DarkDoubling, DarkActivation, DarkCurrent Figure // the last at 0 °C
	DarkBenefit                               Figure // of package worth

	Mode        Mode
	Transfer    []TransferPoint
	TransferFit stats.Line // variance against signal; N 0 when there was nothing to fit
	Linearity   []LinearityPoint
	Series      []ExposureSeries // dark signal against exposure, one a temperature
	Temperature TemperatureLaw
	Old         []string // metrics that are of an earlier night or a header, not of these frames
	Setting     string   // of the camera's mode, as Setting writes it
}

// LinearityPoint is one exposure of the same steady light.
type LinearityPoint struct {
	Filter       names.Name
	Exposure     float64 // s
	Signal       float64 // ADU above the offset
	DeviationPct float64 // from the line, % of the line
}

// ExposureSeries is dark frames of several exposures at one temperature.
type ExposureSeries struct {
	TempC  float64
	Points []ExposurePoint
	Fit    stats.Line // level above the bias in ADU against seconds, by the darks alone; N 0 with one exposure
	Bias   bool       // levels are above the bias; else above nothing

	Rate      stats.Value // ADU/s, of the median pixel
	Method    fact.Fact   // how Rate was measured; without a code where it is missing
	Intercept stats.Value // ADU, level at zero exposure by the darks alone, above the bias where Bias
	ByNoise   stats.Value // ADU/s, by how much noisier darks are than bias frames
	Finding   fact.Fact   // what intercept, straightness and noise tell; without a code of too few exposures
}

// ExposurePoint is one dark set in an exposure series.
type ExposurePoint struct {
	Exposure float64 // s
	Level    float64 // ADU
	Err      float64
	Set      string
}

// TemperatureLaw is dark current against temperature.
type TemperatureLaw struct {
	Points       []TemperaturePoint
	Fit          stats.Line  // ln(rate) against 1/(k T) - 1/(k Tmid) in 1/eV; the slope is minus the activation energy
	MidC         float64     // °C, where the doubling temperature is meant
	ActivationEV stats.Value // eV
	DoublingC    stats.Value // °C
	Electrons    bool        // rates are e-/s; else ADU/s
	Basis        fact.Fact   // what the fit rests on; without a code where there is none
}

// TemperaturePoint is the dark current at one temperature.
type TemperaturePoint struct {
	TempC, Rate, Err float64
	TempErr          float64 // °C, how well the temperature is known
	Frames           int
}

// Figure is what was measured and how.
type Figure struct {
	stats.Value             // N: frames behind it
	Note        []fact.Fact // how it was measured or which gain was used
}
