package ahead

import (
	"math"
	"time"

	"fitsqa/internal/sky"
)

// AssumedMag is the sky that is assumed where none was measured: that of a
// town's edge (common practice, no source). It is named where it is used.
const AssumedMag = 20.0

// modelError of the moonlight model in mag: its authors put it at 8 to 23 %
// (Krisciunas and Schaefer 1991), and the extinction of the night is not known.
const modelError = 0.25

type level struct {
	ratio float64 // sky over the filter's moonless sky, 1 without the Moon
	speed float64 // of gaining signal to noise squared, relative to the best sky and the zenith
	moon  bool
}

// bears tells whether an hour gives enough for the slot to be offered to the filter.
func (l level) bears() bool { return l.speed >= LeastSpeed }

func levelAt(site *sky.Site, t time.Time, target Target, f Filter) level {
	c := sky.At(site, t, target.RA, target.Dec)
	dark := sky.NLFromMag(f.Sky.Mag)
	moonlight := c.MoonlightNL.V * sky.MoonColour(f.WavelengthNM, c.MoonSeparation.V)
	l := level{ratio: 1 + moonlight/dark, moon: c.MoonAlt.V > 0}
	through := math.Pow(10, -0.4*sky.Extinction*(c.Airmass.V-1))
	l.speed = through * through / l.ratio
	return l
}

// expected is the sky of a block of slots in mag, with its error: that of the
// measured sky, and the model's where the Moon counts.
func (f Filter) expected(ratio float64) (mag, err float64) {
	mag = f.Sky.Mag - 2.5*math.Log10(ratio)
	moon := 1 - 1/ratio // share of the sky that is moonlight
	return mag, math.Hypot(f.Sky.MagErr, modelError*moon)
}
