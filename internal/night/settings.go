package night

import (
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

// Settings are all that a user can set, each with the default of the package
// that uses it.
type Settings struct {
	Frames frames.ScanOptions
	Calib  calib.Options
	Stars  stars.Options
	Limits subs.Limits
	Site   *sky.Site // nil: from the headers, if they tell
}

// DefaultSettings is what the command line starts from.
func DefaultSettings() Settings {
	return Settings{
		Frames: frames.DefaultScanOptions,
		Calib:  calib.DefaultOptions,
		Stars:  stars.DefaultOptions,
		Limits: subs.DefaultLimits,
	}
}
