package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Options steer what is measured of the cameras.
type Options struct {
	Workers     int
	TempTolC    float64      // darks of temperatures no further apart are of one series, °C
	ExposureTol float64      // darks of the flats' exposure differ from it by no more than this fraction
	HotSigma    float64      // a hot pixel stands so many robust sigma above the median dark rate, or more
	AllHot      bool         // every hot pixel is listed, not only the hottest of a set
	Remembered  []Remembered // figures of earlier nights, for modes whose own frames do not tell them
	Room        *stack.Room  // where masters are kept; nil: in memory
}

// Cameras measures the cameras of a run by their bias frames, darks and flats:
// first MeasureBias, then Measure.
type Cameras struct {
	opt     Options
	stacker *stack.Stacker

	biases []*biasRun
	flats  []*flatRun
	darks  []*darkRun
	lent   []*biasRun // masters of bias frames that some program made
	lights []*frames.Group
	ready  []*frames.Group // masters that some program made: their headers' claims count
	modes  []*mode

	lentDarks []Lent // those of darks that flats may need

	Combined []*frames.Group // single frames whose noise shows that they are masters
	Unsure   []*frames.Group // single frames that may be masters or raw

	AskedSubs bool // the gain rests on pixels of subs
}

type measuredSet struct {
	why    fact.Fact // why nothing could be measured; no code when it could
	run    *stack.Series
	master *stack.Plane
	hot    []int32
}

// find is the measured set of a group; the zero one where there is none.
func (cs *Cameras) find(g *frames.Group) measuredSet {
	for _, b := range cs.biases {
		if b.group == g {
			return measuredSet{b.why, b.Series, b.master, nil}
		}
	}
	for _, d := range cs.darks {
		if d.group == g {
			return measuredSet{d.why, d.Series, d.master, d.hot}
		}
	}
	for _, f := range cs.flats {
		if f.group == g {
			return measuredSet{f.why, f.Series, f.master, nil}
		}
	}
	return measuredSet{}
}

// Why tells why nothing could be measured of a set; no code when it could.
func (cs *Cameras) Why(g *frames.Group) fact.Fact { return cs.find(g).why }

// MasterOf is the master of a set; nil where none could be made of it.
func (cs *Cameras) MasterOf(g *frames.Group) *stack.Plane { return cs.find(g).master }

// HotOf are the indices of the hot pixels of a set of darks, sorted.
func (cs *Cameras) HotOf(g *frames.Group) []int32 { return cs.find(g).hot }

// MadeOf are the frames that a set's master is made of; nil when it has none.
func (cs *Cameras) MadeOf(g *frames.Group) []*frames.Frame {
	if s := cs.find(g); s.master != nil {
		return s.run.Frames
	}
	return nil
}

// Groups are those of a kind that were measured.
func (cs *Cameras) Groups(k frames.Kind) []*frames.Group {
	var gs []*frames.Group
	switch k {
	case frames.Bias:
		for _, b := range cs.biases {
			gs = append(gs, b.group)
		}
	case frames.Dark:
		for _, d := range cs.darks {
			gs = append(gs, d.group)
		}
	case frames.Flat:
		for _, f := range cs.flats {
			gs = append(gs, f.group)
		}
	}
	return gs
}

func (cs *Cameras) modeOf(g *frames.Group) *mode {
	for _, m := range cs.modes {
		if m.has(g) {
			return m
		}
	}
	m := &mode{Mode: ModeOf(g),
		gain: stats.Missing(NoFlatsNoHeader), measured: stats.Missing(NoFlats),
		header: math.NaN(), readNoise: stats.Missing(NoBiasFrames), saturation: math.NaN()}
	cs.modes = append(cs.modes, m)
	return m
}

func (m *mode) has(g *frames.Group) bool { return m.Same(ModeOf(g)) }
