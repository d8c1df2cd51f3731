package sky

import (
	"time"

	"fitsqa/internal/names"
)

// Shot is what a sub tells about the clock that its header was written by.
// Numbers that the header lacks are NaN.
type Shot struct {
	Name     string // file name with its folder; its numbers give the order of shooting
	Camera   names.Name
	Start    time.Time // as in the header, taken for UTC; zero when unknown
	Settled  bool      // the header settles that Start is UTC
	Exposure float64   // s
	Stars    bool      // stars were found in it
	RA, Dec  float64   // degrees, J2000
	Bare     bool      // RA is a number without a unit that may be hours

	Elsewhere bool // from another site than the night's, or one that is not known

	// What the header claims of the target's place, by a clock of its own.
	Zone      float64 // h that the observer's clock is ahead of UTC; some count west as positive
	Altitude  float64 // degrees
	HourAngle float64 // degrees, west positive
	Sidereal  float64 // degrees, local
	Airmass   float64
}

func (s Shot) middle() time.Time {
	if s.Exposure > 0 {
		return s.Start.Add(seconds(s.Exposure / 2))
	}
	return s.Start
}

func (s Shot) end() time.Time {
	if s.Exposure > 0 {
		return s.Start.Add(seconds(s.Exposure))
	}
	return s.Start
}
