package demo

import "time"

// Scenario says what one night holds and what goes wrong in it. Subs are
// counted from 0 in the order in which they were shot.
type Scenario struct {
	Name    string
	Summary string // one line for the command's help
	Seed    uint64

	Width, Height int // px

	Bias       int // frames
	Darks      []DarkSet
	FlatLevels []float64  // fractions of saturation; a pair of flats for each filter and level
	FlatShift  [2]float64 // px, along x and y, by which the filters' dust lay elsewhere when the flats were shot
	Blocks     []Block    // the subs, in the order shot

	Start    time.Time // UTC, of the first sub
	Targets  []Target  // that Blocks refer to
	Stars    int       // stars brighter than magnitude 20 in one field
	SkyMag   float64   // of the site's night sky without Sun and Moon, mag/arcsec²
	Seeing   float64   // median FWHM, arcsec
	DitherPx float64   // largest shift along x and y between subs, px
	Flip     int       // first sub after the meridian flip, 0 for none
	FlipTurn float64   // degrees by which the field is then off half a turn, 0.3 aside

	Clouds  []Cloud
	Trails  []Trail
	Drifts  []Drift
	Streaks []int // subs that a satellite crosses

	Lens    *Lens // nil: the Newtonian
	Doubles []Double
	Covers  []Cover
	Dews    []Dew
	Spikes  *Spikes
	Knots   int        // galaxies and knots of nebula, two to three times as wide as a star
	Sensor  *Cooling   // nil: held at its set point
	Bayer   string     // the camera's colour mosaic, "" for none
	Turn    float64    // degrees, up to which the angles of trails scatter; 0: 3
	Mount   [2]float64 // px/h that the pointing drifts along x and y
	Hot     float64    // times as many hot pixels as the camera has; 0: as many
	NoSite  bool       // the headers do not tell the site
	NoTime  bool       // nor when a sub was shot
}

// Target is a field of stars.
type Target struct {
	Name    string
	RA, Dec float64 // degrees, J2000
	Nebula  bool
	Real    bool // its bright stars are the sky's
}

// Lens is a telescope other than the Newtonian.
type Lens struct{ FocalMM, ApertureMM float64 }

// DarkSet is darks of one temperature and exposure.
type DarkSet struct {
	TempC    float64
	Exposure float64 // s
	Frames   int
}

// Block is a run of subs of one target through one filter.
type Block struct {
	Target   int // index into Scenario.Targets
	Filter   string
	Exposure float64 // s
	Subs     int
}

// Span is the subs from First up to and including Last.
type Span struct{ First, Last int }

// fraction is how far sub i lies into the span, 0 at its first sub and 1 at its last.
func (s Span) fraction(i int) (f float64, inside bool) {
	if i < s.First || i > s.Last {
		return 0, false
	}
	if s.First == s.Last {
		return 1, true
	}
	return float64(i-s.First) / float64(s.Last-s.First), true
}

// Cloud dims a run of subs; its depth rises to the middle and falls again, or rises
// to the end.
type Cloud struct {
	Span
	Magnitudes float64 // extinction at the middle
	Uneven     float64 // how much the extinction varies over the field, as a fraction of itself
	Glow       float64 // sky brightening where the cloud is opaque, as a fraction of the site's sky
	Flat       bool    // the whole run has the full depth (a deck, not a passing cloud)
	Thickens   bool    // little by little to the full depth at the last sub
	Halo       float64 // share of the light lost that ice crystals throw into halos around the stars
}

// Trail elongates all stars of a run of subs.
type Trail struct {
	Span
	Length float64 // px, of the middle of the run; single subs differ by up to a fifth
	Angle  float64 // degrees
}

// Drift defocuses a run of subs: the blur grows in proportion to the time since
// the middle of the run's first sub, as a tube that cools and shrinks does.
type Drift struct {
	Span
	Blur float64 // diameter of the out-of-focus disc at the last sub, arcsec
}

// ScenarioNamed finds one of Scenarios.
func ScenarioNamed(name string) (Scenario, bool) {
	for _, sc := range Scenarios() {
		if sc.Name == name {
			return sc, true
		}
	}
	return Scenario{}, false
}

func (sc Scenario) subs() int {
	n := 0
	for _, b := range sc.Blocks {
		n += b.Subs
	}
	return n
}

// filters are those that the blocks use, in order of first use.
func (sc Scenario) filters() []string {
	var names []string
	seen := map[string]bool{}
	for _, b := range sc.Blocks {
		if !seen[b.Filter] {
			seen[b.Filter] = true
			names = append(names, b.Filter)
		}
	}
	return names
}

func (sc Scenario) frames() int {
	n := sc.Bias + 2*len(sc.FlatLevels)*len(sc.filters()) + sc.subs()
	for _, d := range sc.Darks {
		n += d.Frames
	}
	return n
}
