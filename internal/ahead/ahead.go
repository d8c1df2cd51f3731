// Package ahead plans the coming nights: when it is dark, where Moon and targets
// stand, which filter is worth shooting when, and for how long.
//
// Model. A night is cut into slots of ten minutes. A slot is of use to a target
// while the Sun is below -18° (where it never is, below -12°, which is said) and
// the target above an altitude that the user chooses. What a filter gets out of
// it is the speed at which a faint, extended object gains signal to noise
// squared under a limiting sky, relative to the filter's best: the square of
// what the air lets through, over how much the Moon brightens the filter's sky.
// Moonlight is the model of Krisciunas and Schaefer 1991 (package sky) on top of
// the sky that the site itself measured; towards red the part that air molecules
// scatter is weaker, as λ⁻⁴ (Rayleigh), which is why a red line bears the Moon.
//
// Each slot goes where it gains most in comparison with what the same filter
// would gain in the mean slot of the coming nights, so that moonless hours go to
// the filters that suffer most from moonlight; where an hour would give less than
// 0.4 clear hours it is left free. A change of filter or target
// costs time, so that the plan is made of stretches. Needs are what goals leave;
// without goals filters share alike. Each night is planned as if it were the
// next clear one.
//
// What it leaves out: weather, horizons with trees, refraction (targets stand up
// to 0.1° higher), proper motions.
package ahead

import (
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// Options steer the plan; take DefaultOptions and change what you need.
type Options struct {
	Nights         int     // how many
	MinAltitude    float64 // degrees; a target lower than this is left alone
	ReadNoiseShare float64 // read noise may add this fraction to the noise of a sub
	MaxExposure    float64 // s
}

// DefaultOptions is what the command line starts from. Below 30° two airmasses
// and more take light and detail (common practice, no source).
var DefaultOptions = Options{Nights: 7, MinAltitude: 30, ReadNoiseShare: 0.05, MaxExposure: 1200}

// Outlook is the plan and what it rests on.
type Outlook struct {
	Site     *sky.Site
	Zone     *time.Location // of the times that people read
	Options  Options
	Targets  []Target
	Unplaced []names.Name // targets left out, as nobody knows where they stand
	Nights   []Night
}

// Target is what is to be shot. Coordinates are degrees, J2000.
type Target struct {
	Name    names.Name
	RA, Dec float64
	Filters []Filter
}

// Filter is one filter of one target, and what the season knows of it.
type Filter struct {
	Name         names.Name
	WavelengthNM float64 // middle of the band
	Known        bool    // the wavelength is the user's or the name's; else it is taken for a broad band
	HaveHours    float64 // clear hours so far
	GoalHours    float64 // wanted; 0: none
	Sky          Sky
	PixelScale   float64     // arcsec a pixel; NaN when unknown
	ReadNoise    float64     // e-; NaN when unknown
	LastExposure float64     // s, of the latest sub; NaN when there is none
	Gap          stats.Value // s between its subs, the usual one
}

// Sky is the moonless sky of the site through a filter, as measured.
type Sky struct {
	Rate   float64 // e-/s per square arcsecond; NaN when never measured
	Mag    float64 // mag per square arcsecond, V or as near as the zero point is
	MagErr float64 // from night to night
	Nights int     // behind it; 0: the magnitude is assumed
}

// needs tells how many clear hours are still wanted; +Inf without a goal.
func (f Filter) needs() float64 {
	if f.GoalHours == 0 {
		return math.Inf(1)
	}
	return math.Max(0, f.GoalHours-f.HaveHours)
}

// Why there is nothing to shoot in a night.
const (
	NothingWanted fact.Code = "nothing_wanted" // all goals are reached, or no target is known
	NoneHigh      fact.Code = "none_high"      // altitude_deg; no target stands higher
	SkyTooBright  fact.Code = "sky_too_bright" // least; of clear time an hour gives no more to any target and filter
	TooShort      fact.Code = "too_short"      // what is left is not worth the way to a target
)

// Night is the plan of one night.
type Night struct {
	Date      string   // of the evening
	Sun       sky.Span // from sunset to sunrise
	Dark      sky.Span // while targets can be shot; empty when it never gets dark
	Nautical  bool     // Dark is counted from -12°, as the Sun never sinks to -18°
	MoonUp    []sky.Span
	MoonLit   float64 // percent, in the middle of the night
	DarkHours float64
	Moonless  float64 // hours of Dark without the Moon
	Targets   []TargetNight
	Blocks    []Block   // what to shoot when, in order
	Idle      fact.Code // why there are none; "" where there are, or where it never gets dark
}

// TargetNight is how a target stands in one night.
type TargetNight struct {
	Target         names.Name
	Transit        time.Time // meridian crossing next to the middle of the night
	Up             sky.Span  // within Dark and above the least altitude; empty when never
	Hours          float64   // of Up
	Moonless       float64   // of these, without the Moon
	BestAltitude   float64   // degrees, within Up; NaN when never up
	BestAirmass    float64
	MoonSeparation float64 // degrees, in the middle of Up, or of the night
	Curve          []Point // through the night, every half hour
}

// Point is where target and Moon stand at a time.
type Point struct {
	Time               time.Time
	Altitude, Airmass  float64 // degrees; NaN below the horizon
	MoonAltitude       float64 // degrees
	MoonSeparation     float64 // degrees
	MoonBrighteningMag float64 // of a dark sky, negative is brighter
}

// Block is a stretch of the night for one filter of one target.
type Block struct {
	Span           sky.Span
	Target, Filter names.Name
	Moon           bool      // the Moon is up in most of it
	SkyMag         float64   // expected, mag per square arcsecond
	SkyMagErr      float64   // of the expectation
	Speed          float64   // clear hours an hour gives, relative to the filter's best sky
	Exposure       float64   // s, for that sky; NaN when camera or sky are not known
	Asked          float64   // s, what that sky asks for; longer where Exposure goes no further from the last one
	Flip           time.Time // the meridian crossing within it; zero when there is none
	StillHours     float64   // clear hours that its goal needs before this block; +Inf without a goal
}
