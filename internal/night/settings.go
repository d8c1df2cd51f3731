package night

import (
	"runtime"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/config"
	"fitsqa/internal/frames"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

// Settings are all that a user can set, each with the default of the package
// that uses it. The toml names are the keys of the configuration file.
type Settings struct {
	Workers   int                `toml:"workers" min:"1" max:"256" help:"frames measured at once, and processors used"`
	MemoryMiB int                `toml:"memory" min:"100" max:"1000000" unit:"MiB" help:"memory to stay under: fewer workers run when frames are large, but always one"`
	Site      *sky.Site          `toml:"site" help:"Where the telescope stood, where headers do not tell:"` // nil: from the headers, if they tell
	Frames    frames.ScanOptions `toml:"-"`
	Calib     calib.Options      `toml:"calibration"`
	Stars     stars.Options      `toml:"stars"`
	Limits    subs.Limits        `toml:"limits"`
	Plan      plan.Options       `toml:"plan"`

	Cache     *cache.Store        `toml:"-"` // remembers measurements from run to run; nil: nothing is remembered
	Decisions []subs.Decision     `toml:"-"` // the user's own verdicts; of one on the same sub the last counts
	UTCOffset *float64            `toml:"-"` // local time ahead of UTC, h; nil: by the site's longitude
	Earlier   []plan.Earlier      `toml:"-"` // clear time of other nights, from the season's ledger
	NoLedger  string              `toml:"-"` // why the ledger could not be read; "" when it could, or was not asked for
	Season    Season              `toml:"-"` // the scale of other nights, likewise
	Camera    []sensor.Remembered `toml:"-"` // figures of cameras from other nights, likewise
	HotMaps   []sensor.HotMap     `toml:"-"` // their hot pixels, likewise
}

// DefaultSettings is what the command line starts from.
func DefaultSettings() Settings {
	return Settings{
		Workers:   min(256, runtime.GOMAXPROCS(0)),
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
	if err := config.Check(s); err != nil {
		return err
	}
	return s.Consistent()
}

// Consistent tells which settings, each possible, make no sense together.
func (s *Settings) Consistent() error {
	if s.Site != nil && !s.Site.Valid() {
		return &config.Error{Key: "site.lat", Problem: "and site.lon are both 0, which is open sea: a place that was never filled in"}
	}
	if err := s.Limits.Check(); err != nil {
		return err
	}
	return s.Plan.Validate()
}
