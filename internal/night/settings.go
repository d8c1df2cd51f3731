package night

import (
	"fmt"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/plan"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

// Settings are all that a user can set, each with the default of the package
// that uses it. The toml names are the keys of the configuration file.
type Settings struct {
	Workers   int                `toml:"workers"`    // frames worked on at once
	MemoryMiB int                `toml:"memory_mib"` // memory to stay under, MiB
	Site      *sky.Site          `toml:"site"`       // nil: from the headers, if they tell
	Frames    frames.ScanOptions `toml:"-"`
	Calib     calib.Options      `toml:"calibration"`
	Stars     stars.Options      `toml:"stars"`
	Limits    subs.Limits        `toml:"limits"`
	Plan      plan.Options       `toml:"plan"`

	Cache     *cache.Store       `toml:"-"` // remembers measurements from run to run; nil: nothing is remembered
	Decisions []subs.Decision    `toml:"-"` // the user's own verdicts; of one on the same sub the last counts
	Earlier   []plan.Earlier     `toml:"-"` // clear time of other nights, from the season's ledger
	Camera    []calib.Remembered `toml:"-"` // figures of cameras from other nights, likewise
}

// DefaultSettings is what the command line starts from.
func DefaultSettings() Settings {
	return Settings{
		Workers:   2,
		MemoryMiB: 1400,
		Frames:    frames.DefaultScanOptions,
		Calib:     calib.DefaultOptions,
		Stars:     stars.DefaultOptions,
		Limits:    subs.DefaultLimits,
		Plan:      plan.DefaultOptions,
	}
}

// Validate tells the first setting that makes no sense.
func (s *Settings) Validate() error {
	switch {
	case s.Workers < 1 || s.Workers > 256:
		return fmt.Errorf("workers must be 1 to 256, not %d", s.Workers)
	case s.MemoryMiB < 100:
		return fmt.Errorf("memory must be 100 MiB or more, not %d", s.MemoryMiB)
	case s.Site != nil && !s.Site.Valid():
		return fmt.Errorf("no site has latitude %g, longitude %g", s.Site.Lat, s.Site.Lon)
	case !(s.Calib.TempTolC > 0):
		return fmt.Errorf("temperature tolerance must be above 0 °C, not %g", s.Calib.TempTolC)
	case !(s.Calib.ExposureTol >= 0 && s.Calib.ExposureTol < 1):
		return fmt.Errorf("exposure tolerance must be a fraction from 0 to 1, not %g", s.Calib.ExposureTol)
	case !(s.Calib.HotSigma >= 3):
		return fmt.Errorf("hot-pixel sigma must be 3 or more, not %g", s.Calib.HotSigma)
	case !(s.Stars.Threshold >= 3):
		return fmt.Errorf("star sigma must be 3 or more, not %g", s.Stars.Threshold)
	case s.Stars.MaxFits < 1:
		return fmt.Errorf("star fits must be 1 or more, not %d", s.Stars.MaxFits)
	}
	if err := s.Limits.Check(); err != nil {
		return err
	}
	return s.Plan.Validate()
}
