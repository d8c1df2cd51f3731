// Package night is the pipeline in reading order: frames, calibration, stars,
// verdicts, plan. Its Result is all that any report is made from.
//
// Run (run.go) is the order; each step is a method in the file of its name. What is
// decided here, and in no package below, is which subs belong together for what: subs of
// one target, camera and size are tied (same.go, align.go); those among them that
// by their stars show another field are parted (otherfield.go); of one optics and
// filter they are put on the season's scale (view.go, season.go). Package subs groups
// them to be judged.
//
// Model of the light: what a sub's stars lose is lost to its signal; the sky's own
// light is not dimmed with them, so that its brightness goes by the zero point of the
// clearest subs (light.go). Transparencies are not corrected for extinction. Fields that
// the star catalogue does not know keep empty magnitudes.
//
// A sub is measured once: what was measured is remembered under a key of the frame's bytes and
// all that was applied to it (remember.go). With a ledger, Settings.Season
// and Settings.Camera hold what earlier nights told; without one every night stands for
// itself.
package night

import (
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/plan"
	"fitsqa/internal/plate"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// Result is everything known about the scanned folders. Reports compute
// nothing: what two of them show is computed before, and stands here.
type Result struct {
	Roots    []string // absolute
	Finished time.Time
	Program  string // version of the program that made this
	Folder   string // of the reports, for commands that they name
	Settings Settings

	Frames      []*frames.Frame          // every file, by name
	Sorted      *frames.Sorted           // the same, sorted into groups and stacks
	Calib       *calib.Result            // camera and calibration
	Subs        []*Sub                   // every sub, readable or not, in time order, then by name
	Verdicts    *subs.Result             // groups, events, economics
	Fields      []FieldReport            // field maps, one a group
	Motions     []MotionReport           // dither, drift, field rotation, jumps, one a target and camera
	Extinctions []ExtinctionReport       // of the air, one a target, filter and night
	Local       LocalTime                // of the site
	Twilight    []sky.Span               // Sun above -18°, between the first and the last sub of a night
	MoonUp      []sky.Span               // Moon above the horizon, likewise
	Worth       []worth.Answer           // are darks worth it, one a group of subs
	MasterWorth []worth.Master           // the same question for bias frames and flats, two a group
	Dust        []dust.Match             // do the flats' dust shadows lie where the subs have them, one a group of subs with a flat
	Places      []Place                  // where the targets lie on the sky, one a target and camera
	Merits      map[int]Merit            // of the groups on the season's scale, by stack
	References  []Reference              // of views that the ledger knew nothing of
	Plan        *plan.Plan               // advice
	Changes     []CameraChange           // against other nights; whoever holds the ledger fills it
	Impossible  map[names.Name]fact.Fact // by camera, why times and site cannot be true, so that no figure rests on them
	disputed    map[string]bool          // files whose headers claim another place of the target than their times, site and coordinates
	First       []fact.Fact              // what must be read before anything else; among Warnings too
	OfFiles     []OddFiles               // warnings of single files, alike ones together
	Warnings    []fact.Fact              // of the whole night
}

// Sub is a judged sub together with its file and its picture.
type Sub struct {
	*subs.Sub
	Frame *frames.Frame

	Plate       plate.Solved // where it lies on the sky
	ZeroPoint   stats.Value  // V_T of a star of 1 e-/s, of 1 ADU/s while the gain is not known; N = stars
	SkyMag      stats.Value  // mag per square arcsec on that scale
	LimitingMag stats.Value  // of a star of 5 sigma

	// Against the best night of the season: its light; its FWHM over that of the sharpest
	// quarter of the season's kept subs; and the weight that it has there.
	SeasonTransparency, SeasonFWHM, SeasonalWeight stats.Value

	applied *calib.Calibration // what its pixels are corrected with

	picture *picture // nil when unreadable
	album   *album   // where pictures are kept

	key    cache.Key // what its figures are remembered by; zero when they are not
	fixed  []int     // numbers of its stars, as measured, that were none and were taken off
	moving []int     // numbers of its points, as measured, that were stars and were added
}

// FieldReport is the combined map of a group's good subs and what it says
// about tilt, curvature, collimation and tracking.
type FieldReport struct {
	Group    string
	Map      stars.Map
	Findings []fact.Fact // what the pattern over the field tells
	Notes    []fact.Fact // why there is no map, or nothing was looked for
}

// warn adds a warning.
func (r *Result) warn(code fact.Code, values ...fact.Value) {
	r.Warnings = append(r.Warnings, fact.Of(code, values...))
}
