package calib

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// biasTempTol is how far in °C a bias may be off the subs' temperature: the
// offset of most cameras hardly moves with it (common practice, no source).
const biasTempTol = 5

// mismatch is one property in which calibration frames differ from the subs.
type mismatch struct {
	words  string
	weight float64 // how much it matters when candidates are compared
}

// candidate is calibration frames weighed against a group of subs.
type candidate struct {
	group      *frames.Group
	mismatches []mismatch
	unknown    []string // properties that a header lacks
}

func (c *candidate) weight() float64 {
	w := 0.1 * float64(len(c.unknown))
	for _, m := range c.mismatches {
		w += m.weight
	}
	return w
}

func (c *candidate) differ(weight float64, format string, args ...any) {
	c.mismatches = append(c.mismatches, mismatch{fmt.Sprintf(format, args...), weight})
}

// setting compares a number that must be the same.
func (c *candidate) setting(name, unit string, weight, mine, subs float64) {
	switch {
	case math.IsNaN(mine) != math.IsNaN(subs):
		c.unknown = append(c.unknown, name)
	case !same(mine, subs):
		c.differ(weight, "%s %s, subs %s", name, withUnit(mine, unit), withUnit(subs, unit))
	}
}

func withUnit(v float64, unit string) string {
	s := fmt.Sprintf("%g", math.Round(v*100)/100)
	if unit != "" {
		s += " " + unit
	}
	return s
}

// weigh compares calibration frames of a kind with subs.
func (a *analysis) weigh(g, lights *frames.Group) *candidate {
	c := &candidate{group: g}
	if g.Camera != lights.Camera {
		c.differ(50, "camera %s, subs %s", nameOf(g.Camera), nameOf(lights.Camera))
	}
	if g.BinX != lights.BinX || g.BinY != lights.BinY {
		c.differ(100, "binning %dx%d, subs %dx%d", g.BinX, g.BinY, lights.BinX, lights.BinY)
	}
	if g.Width != lights.Width || g.Height != lights.Height {
		c.differ(100, "size %dx%d, subs %dx%d", g.Width, g.Height, lights.Width, lights.Height)
	}
	c.setting("gain", "", 20, g.GainSetting, lights.GainSetting)
	c.setting("offset", "", 10, g.OffsetSetting, lights.OffsetSetting)
	switch g.Kind {
	case frames.Flat:
		if g.Filter != lights.Filter {
			c.differ(30, "filter %s, subs %s", nameOf(g.Filter), nameOf(lights.Filter))
		}
		switch mine, subs := g.Rotation(), lights.Rotation(); {
		case mine.Differs(subs):
			c.differ(8, "%s, subs at %.0f°", mine, subs.Degrees)
		case mine.Known() != subs.Known() || mine.OnSky != subs.OnSky:
			c.unknown = append(c.unknown, "rotation")
		}
		return c
	case frames.Dark:
		switch {
		case math.IsNaN(g.Exposure) || math.IsNaN(lights.Exposure):
			c.unknown = append(c.unknown, "exposure")
		case math.Abs(g.Exposure-lights.Exposure) > a.opt.ExposureTol*lights.Exposure:
			c.differ(5+math.Abs(math.Log(max(g.Exposure, 1e-3)/max(lights.Exposure, 1e-3))), "exposure %s, subs %s", withUnit(g.Exposure, "s"), withUnit(lights.Exposure, "s"))
		}
		c.temperature(TemperatureOf(g), TemperatureOf(lights), a.opt.TempTolC)
	case frames.Bias:
		c.temperature(TemperatureOf(g), TemperatureOf(lights), biasTempTol)
	}
	return c
}

func (c *candidate) temperature(mine, subs, tolerance float64) {
	switch d := math.Abs(mine - subs); {
	case math.IsNaN(mine) && math.IsNaN(subs):
	case math.IsNaN(d):
		c.unknown = append(c.unknown, "temperature")
	case d > tolerance:
		c.differ(3+d/10, "temperature %.1f °C, subs %.1f °C", mine, subs)
	}
}

// TemperatureOf is the median sensor temperature of a group's frames, else the
// one that was set; NaN when neither is known.
func TemperatureOf(g *frames.Group) float64 {
	var sensor, set []float64
	for _, f := range g.Frames {
		if t := f.Meta.SensorTemp; !math.IsNaN(t) {
			sensor = append(sensor, t)
		}
		if t := f.Meta.SetTemp; !math.IsNaN(t) {
			set = append(set, t)
		}
	}
	if len(sensor) > 0 {
		return stats.Median(sensor)
	}
	return stats.Median(set)
}

func nameOf(n names.Name) string {
	if n == "" {
		return "unknown"
	}
	return frames.Printable(string(n))
}

// best is the candidate of a kind that fits subs best; nil when there is none.
// Single frames go before masters that some program made.
func (a *analysis) best(kind frames.Kind, lights *frames.Group) *candidate {
	var best *candidate
	for _, list := range [][]*frames.Group{a.groups(kind), a.ready[kind]} {
		for _, g := range list {
			if why := a.unusable(g); why != "" {
				continue
			}
			if c := a.weigh(g, lights); best == nil || c.weight() < best.weight() {
				best = c
			}
		}
	}
	return best
}

// unusable tells why nothing could be measured of a set; "" when it could.
func (a *analysis) unusable(g *frames.Group) string {
	for _, b := range a.biases {
		if b.group == g {
			return b.why
		}
	}
	for _, d := range a.darks {
		if d.group == g {
			return d.why
		}
	}
	for _, f := range a.flats {
		if f.group == g {
			return f.why
		}
	}
	return a.refused[g]
}

// framesBehind counts the frames of a group; of a master those that it was made
// of, -1 when that is not known.
func (a *analysis) framesBehind(g *frames.Group) int {
	switch n := g.Frames[0].Meta.Combined; {
	case !a.isMaster(g):
		return len(g.Frames)
	case n > 1:
		return n
	}
	return -1
}

// madeOf words of how many frames a master was made.
func madeOf(g *frames.Group) string {
	if n := g.Frames[0].Meta.Combined; n > 1 {
		return fmt.Sprintf(" of %d frames", n)
	}
	return " (of how many frames is not known)"
}

var plurals = map[frames.Kind]string{frames.Bias: "bias frames", frames.Dark: "darks", frames.Flat: "flats"}

// match words how well a kind covers subs.
func (a *analysis) match(kind frames.Kind, lights *frames.Group) Match {
	if lights.Processed() {
		return Match{Words: "none applied, the subs were calibrated or aligned before"}
	}
	c := a.best(kind, lights)
	if c == nil {
		for _, g := range append(a.groups(kind), a.ready[kind]...) {
			if why := a.unusable(g); why != "" {
				return Match{Words: fmt.Sprintf("no usable %s: %s", plurals[kind], why)}
			}
		}
		return Match{Words: "no " + plurals[kind]}
	}
	what := fmt.Sprintf("%d %s", len(c.group.Frames), plurals[kind])
	if len(c.group.Frames) == 1 {
		what = "1 " + strings.TrimSuffix(plurals[kind], "s")
		if a.isMaster(c.group) {
			what = "a master " + string(kind) + madeOf(c.group)
		}
	}
	m := Match{Group: c.group, Fits: len(c.mismatches) == 0, Count: a.framesBehind(c.group)}
	var differ []string
	for _, x := range c.mismatches {
		differ = append(differ, x.words)
	}
	verb := " fit"
	if len(c.group.Frames) == 1 {
		verb = " fits"
	}
	switch {
	case !m.Fits:
		m.Words = fmt.Sprintf("%s, not matching: %s", what, strings.Join(differ, "; "))
	case len(c.unknown) > 0:
		m.Words = fmt.Sprintf("%s%s as far as the headers tell (%s unknown)", what, verb, strings.Join(c.unknown, ", "))
	default:
		m.Words = what + verb
	}
	return m
}

// coverage is the table of what fits which subs.
func (a *analysis) coverage() []Coverage {
	var all []Coverage
	for _, g := range a.lights {
		all = append(all, Coverage{Lights: g, Bias: a.match(frames.Bias, g), Dark: a.match(frames.Dark, g), Flat: a.match(frames.Flat, g)})
	}
	return all
}
