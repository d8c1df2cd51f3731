package demo

import "time"

// Truth is all that is known about a written night.
type Truth struct {
	Scenario string `json:"scenario"`
	Seed     uint64 `json:"seed"`
	Frames   int    `json:"frames"`
	Width    int    `json:"width"`
	Height   int    `json:"height"`

	Camera     Camera      `json:"camera"`
	PixelScale float64     `json:"pixel_scale_arcsec"`
	DarkRates  []DarkRate  `json:"dark_rates"`
	Hot        []HotPixel  `json:"hot_pixels"`
	Flats      []FlatTruth `json:"flats"`
	Subs       []Sub       `json:"subs"` // in the order shot
}

// DarkRate is the dark current at one temperature.
type DarkRate struct {
	TempC     float64 `json:"temp_c"`
	Median    float64 `json:"median_e_per_s"`
	Mean      float64 `json:"mean_e_per_s"`
	DoublingC float64 `json:"doubling_c"` // °C that double it, around this temperature
}

// FlatTruth is one level of one filter's flats.
type FlatTruth struct {
	Filter   string  `json:"filter"`
	Level    float64 `json:"level_fraction"` // mean, of saturation
	Exposure float64 `json:"exposure_s"`
}

// Class is how clear a case a sub is.
type Class string

// The classes.
const (
	Good       Class = "good"       // plainly good: nobody would drop it
	Spoiled    Class = "spoiled"    // plainly spoiled: nobody would stack it
	borderline Class = "borderline" // a matter of taste
)

// Sub is the truth about one sub. Lengths in px unless the name says otherwise.
type Sub struct {
	File     string    `json:"file"` // slash-separated, below the night's folder
	Target   string    `json:"target"`
	Filter   string    `json:"filter"`
	Start    time.Time `json:"start_utc"`
	Exposure float64   `json:"exposure_s"`

	Transparency float64 `json:"transparency"`   // light that comes through air and cloud, relative to the best sub of this target, filter and exposure
	Clearness    float64 `json:"clearness"`      // light that comes through the cloud alone, 1 without one
	Transmission float64 `json:"transmission"`   // light that comes through air and cloud, relative to no atmosphere
	ZeroPoint    float64 `json:"zero_point_mag"` // of a star of mean colour that gives 1 e-/s
	SkyRate      float64 `json:"sky_e_per_s"`    // sky and nebula, median over the frame, before vignetting
	SkyRatio     float64 `json:"sky_ratio"`      // SkyRate over that of the group's darkest quarter
	FWHM         float64 `json:"fwhm_px"`        // geometric mean of the axes, median over the bright stars, before integration over pixels
	FWHMPixel    float64 `json:"fwhm_pixel_px"`  // the same after it
	FWHMRatio    float64 `json:"fwhm_ratio"`     // FWHM over that of the group's sharpest quarter
	Ellipticity  float64 `json:"ellipticity"`    // mean over the field
	Angle        float64 `json:"angle_deg"`      // of the mean ellipticity vector
	Coherence    float64 `json:"coherence"`      // length of that vector over Ellipticity
	TrailPx      float64 `json:"trail_px"`
	BlurArcsec   float64 `json:"blur_arcsec"` // diameter of the out-of-focus disc
	ShiftX       float64 `json:"shift_x_px"`  // where the target's centre falls, from the centre of the frame
	ShiftY       float64 `json:"shift_y_px"`
	Rotation     float64 `json:"rotation_deg"` // of the field on the sensor, counter-clockwise
	Streaks      int     `json:"streaks"`
	SunAlt       float64 `json:"sun_alt_deg"`
	MoonAlt      float64 `json:"moon_alt_deg"`
	Airmass      float64 `json:"airmass"`
	Covered      float64 `json:"covered,omitempty"`      // share of the field without light
	Frosted      bool    `json:"frosted,omitempty"`      // what covers it rests on the sensor and scatters a part of the light
	Dewed        float64 `json:"dewed,omitempty"`        // share of the stars' light that dew takes
	DoubleShare  float64 `json:"double_share,omitempty"` // of every star's light that stands beside it
	DoublePx     float64 `json:"double_px,omitempty"`    // distance of the second images
	Noise2       float64 `json:"noise2_e2"`              // variance of one pixel's background, e-²
	LightRatio   float64 `json:"light_ratio"`            // Noise2 over Transmission squared, over what a scaled average of the group bears
	Uneven       float64 `json:"uneven,omitempty"`       // sd over the field of the light that cloud lets through, of its mean
	Thickens     bool    `json:"thickens,omitempty"`     // its cloud thickens until the night ends
	Even         bool    `json:"even,omitempty"`         // what dims the sub dims all of the field alike
	StarsAbove5  int     `json:"stars_above_5_sigma"`    // stars in the frame whose light should reach five times its noise in a matched filter

	Class  Class    `json:"class"`
	Causes []string `json:"causes"`          // what spoils it, worst first, in the words of the output contract
	Spoil  int      `json:"spoil,omitempty"` // so many of them, the first ones, spoil it by themselves
}
