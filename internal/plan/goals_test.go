package plan

import (
	"math"
	"testing"

	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

func TestGoalInHours(t *testing.T) {
	in := Input{Groups: []Group{makeGroup(run(evening, 24, "Ha", 300, nil)...)}, Site: balcony,
		Earlier: []Earlier{
			{"2025-02-01", "C1", "heron-nebula", "HA", 3600},
			{"2025-02-03", "C1", "heron-nebula", "HA", 7000}, // this very night, recorded by a run before
			{"2025-02-01", "C1", "Heron Nebula", "L", 7200},
		}}
	opt := DefaultOptions
	opt.Goals = []Goal{
		{Target: "Heron Nebula", Filter: "Ha", Hours: 10},
		{Target: "Heron Nebula", Filter: "L", Hours: 2},
		{Target: "Heron Nebula", Filter: "OIII", Hours: 4},
	}
	p := Make(in, opt)
	ha, l, o := p.Goals[0], p.Goals[1], p.Goals[2]
	within(t, "tonight", ha.Tonight.V, 2, 1e-9)
	within(t, "earlier", ha.Earlier, 1, 1e-9)
	within(t, "to go", ha.StillNeeded.V, 7, 1e-9)
	within(t, "nights", ha.Nights.V, 3.5, 1e-9)
	if !l.Done || l.StillNeeded.V != 0 {
		t.Errorf("L is done by the ledger: %+v", l)
	}
	within(t, "a filter that had no turn, at the pace of the night", o.Nights.V, 2, 1e-9)
	if len(p.Standings) != 0 {
		t.Errorf("a target with goals needs no standing: %+v", p.Standings)
	}
}

// Signal to noise goals follow the CCD equation: after the clear time that is
// said to be needed, a stack of subs of this length has it.
func TestGoalInSignalToNoise(t *testing.T) {
	in := Input{Groups: []Group{makeGroup(run(evening, 24, "Ha", 300, nil)...)}, Site: balcony}
	opt := DefaultOptions
	opt.Goals = []Goal{{Target: "Heron Nebula", Filter: "Ha", SNR: 30, ObjectSkyPct: 2, AreaArcsec2: 50}}
	g := Make(in, opt).Goals[0]
	n := g.NeededTotal.V * 3600 / 300 // subs
	pixels := 50 / (0.776 * 0.776)
	signal := 0.02 * 0.5 * pixels * 300 * n
	step := 0.25 * stepNoise
	noise := math.Sqrt(signal + n*pixels*((0.5+0.01)*300+1.5*1.5+step*step))
	within(t, "signal to noise there", signal/noise, 30, 1e-9)
	within(t, "grows with the root", g.SNR.V, 30*math.Sqrt(2/g.NeededTotal.V), 1e-9)
	// The same patch in magnitudes.
	opt.Filters = []Filter{{Name: "Ha", ZeroPoint: 20}}
	opt.Goals[0].ObjectSkyPct = 0
	opt.Goals[0].ObjectMag = 20 - 2.5*math.Log10(0.02*0.5/(0.776*0.776))
	same := Make(in, opt).Goals[0]
	within(t, "in magnitudes", same.NeededTotal.V, g.NeededTotal.V, 1e-9)
	opt.Filters = nil
	if none := Make(in, opt); none.Goals[0].NeededTotal.OK() || none.Goals[0].NeededTotal.Why.Code != GoalNeedsZero {
		t.Errorf("no zero point: %v", none.Goals[0].NeededTotal.Why)
	}
}

// A goal in signal to noise takes as many hours of the season's best night whichever
// night is at hand: through haze that takes half the light, or under a sky four times
// as bright, so far as the sky is what makes the noise.
func TestGoalInSignalToNoiseIsTheSeasons(t *testing.T) {
	needed := func(goal Goal, sky, light, share float64) float64 {
		all := run(evening, 24, "Ha", 300, func(_ int, s *subs.Sub) { s.SkyRate.V *= sky; s.SkyADU.V *= sky })
		g := makeGroup(all...)
		g.Season = subs.Season{Light: stats.Known(light, 0, 1), Share: stats.Known(share, 0, 1)}
		opt := DefaultOptions
		opt.Goals = []Goal{goal}
		opt.Filters = []Filter{{Name: "Ha", ZeroPoint: 20}}
		return Make(Input{Groups: []Group{g}, Site: balcony}, opt).Goals[0].NeededTotal.V
	}
	for _, goal := range []Goal{{Target: "Heron Nebula", Filter: "Ha", SNR: 30, ObjectSkyPct: 2}, {Target: "Heron Nebula", Filter: "Ha", SNR: 30, ObjectMag: 23}} {
		const bright = 100 // times the sky of the group as it is, so that read noise is nothing
		best := needed(goal, bright, 1, 1)
		within(t, "through haze", needed(goal, bright, 0.5, 0.25)/best, 1, 1e-9)
		within(t, "under a brighter sky", needed(goal, 4*bright, 1, 0.25)/best, 1, 0.01)
		within(t, "both", needed(goal, 4*bright, 0.5, 0.0625)/best, 1, 0.01)
	}
}

// Without goals only the clear hours are told, and only where earlier nights add to
// those of the table.
func TestStandings(t *testing.T) {
	in := Input{Groups: []Group{
		makeGroup(run(evening, 24, "Ha", 300, nil)...), makeGroup(run(evening, 60, "L", 60, nil)...),
	}, Site: balcony}
	all := Make(in, DefaultOptions).Standings
	if len(all) != 1 || len(all[0].Hours) != 2 || all[0].Earlier {
		t.Fatalf("%+v", all)
	}
	in.Earlier = []Earlier{{"2025-02-01", "C1", "Heron Nebula", "Ha", 5400}, {"2025-02-01", "C1", "Heron Nebula", "SII", 600}}
	if s := Make(in, DefaultOptions).Standings[0]; !s.Earlier || len(s.Hours) != 3 || !(math.Abs(s.Hours[0].Hours-3.5) <= 1e-9) || !(math.Abs(s.Hours[2].Hours-1./6) <= 1e-9) {
		t.Errorf("%+v", s)
	}
	for i := range in.Groups {
		for _, s := range in.Groups[i].Subs {
			s.Weight = stats.Missing("no stars")
		}
	}
	if all := Make(in, DefaultOptions).Standings; len(all) != 0 {
		t.Errorf("nothing is known: %+v", all)
	}
}

func TestValidate(t *testing.T) {
	ok := DefaultOptions
	ok.Goals = []Goal{{Target: "X", Filter: "L", Hours: 3}, {Target: "X", Filter: "R", SNR: 3, ObjectMag: 24}}
	if err := ok.Validate(); err != nil {
		t.Error(err)
	}
	for name, spoil := range map[string]func(*Options){
		"share 0":        func(o *Options) { o.ReadNoiseShare = 0 },
		"NaN":            func(o *Options) { o.MasterShare = math.NaN() },
		"exposure":       func(o *Options) { o.MaxExposure = 0 },
		"efficiency":     func(o *Options) { o.Efficiency = 70 },
		"no target":      func(o *Options) { o.Goals = []Goal{{Filter: "L", Hours: 3}} },
		"both":           func(o *Options) { o.Goals = []Goal{{Target: "X", Filter: "L", Hours: 3, SNR: 4}} },
		"neither":        func(o *Options) { o.Goals = []Goal{{Target: "X", Filter: "L"}} },
		"no object":      func(o *Options) { o.Goals = []Goal{{Target: "X", Filter: "L", SNR: 4}} },
		"negative":       func(o *Options) { o.Goals = []Goal{{Target: "X", Filter: "L", Hours: -1}} },
		"unnamed filter": func(o *Options) { o.Filters = []Filter{{BandwidthNM: 7}} },
	} {
		o := DefaultOptions
		spoil(&o)
		if o.Validate() == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// A target that stands by the Sun is not up in the dark now, six months later it is.
func TestGoalsByTheSun(t *testing.T) {
	sun := math.Mod(360+float64(evening.YearDay()-80)*360/365.25, 360) // its mean right ascension, to a few degrees
	for _, c := range []struct {
		ra  float64
		not bool
	}{{sun, true}, {math.Mod(sun+180, 360), false}, {math.Mod(sun+90, 360), false}} {
		opt := DefaultOptions
		opt.Goals = []Goal{{Target: "Far", Filter: "L", Hours: 3, RA: c.ra, Dec: 1}}
		site := *balcony
		site.Lat = 30
		g := Make(Input{Groups: []Group{makeGroup(run(evening, 24, "L", 300, nil)...)}, Site: &site}, opt).Goals[0]
		if g.NotNow != c.not || g.Nights.OK() == c.not {
			t.Errorf("%+v: %+v", c, g)
		}
	}
}

// A place culminates as many degrees under the zenith as its declination is off the
// latitude: beyond 90 it never rises, and no number of nights brings it.
func TestGoalsThatNeverRise(t *testing.T) {
	for _, c := range []struct {
		lat, ra, dec float64
		never        bool
	}{{50, 100, -39, false}, {50, 100, -41, true}, {-31.5, 100, 80, true}, {-31.5, 100, 58, false}, {0, 10, 89, false}, {78, 10, -12.5, true}, {-70, 0, 0, false}} {
		opt := DefaultOptions
		opt.Goals = []Goal{{Target: "Far", Filter: "L", Hours: 3, RA: c.ra, Dec: c.dec}}
		site := *balcony
		site.Lat = c.lat
		g := Make(Input{Groups: []Group{makeGroup(run(evening, 24, "L", 300, nil)...)}, Site: &site}, opt).Goals[0]
		if g.NeverUp != c.never || g.Nights.OK() == c.never {
			t.Errorf("%+v: %+v", c, g)
		}
	}
}
