package frames

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/names"
)

// Group is frames that may be stacked or compared, and what they share.
// Set temperatures agree within 1 °C, frames whose sensor was further off theirs
// stand apart, exposures agree within 1 %; NaN (unknown) is a
// value of its own, so that frames whose header is silent make a group
// "unknown", not a wrong one.
//
// What splits a group: camera, size, binning, gain, offset and read-out mode always;
// temperature all but lights; exposure darks, lights and frames of unknown kind; filter
// flats and lights; target and whether they are raw lights; a turned camera flats and
// lights. Flats of one filter at several levels are one group.
type Group struct {
	Kind                       Kind
	Camera                     names.Name
	Width, Height              int
	BinX, BinY                 int
	GainSetting, OffsetSetting float64    // NaN: unknown
	ReadoutMode                names.Name // "": unknown, or the camera's only one
	SetTemp                    float64    // °C, set temperature, else the sensor's; NaN: unknown. Not used to split lights.
	Exposure                   float64    // s; NaN: unknown
	Filter                     names.Name // flats and lights only
	Target                     names.Name // lights only
	Frames                     []*Frame   // in time order, then by name

	distinct string // what tells the group from another one of the same label
}

const temperatureTolerance = 1.0 // °C

// Label is short and readable, for example "light M 33 Ha 300 s gain 100".
// What the header lacks is "unknown".
func (g *Group) Label() string {
	parts := []string{string(g.Kind)}
	if g.Kind == Unknown {
		parts[0] = "frame of unknown kind"
	}
	if g.Kind == Light {
		parts = append(parts, known(g.Target, "unknown target"))
	}
	if g.Kind == Light || g.Kind == Flat {
		parts = append(parts, known(g.Filter, "no filter"))
	}
	if g.Kind == Dark || g.Kind == Light || g.Kind == Unknown {
		parts = append(parts, exposureText(g.Exposure))
	}
	if t := g.Temperature(); g.Kind != Light && !math.IsNaN(t) {
		parts = append(parts, fmt.Sprintf("%g °C", math.Round(t*10)/10))
	}
	if !math.IsNaN(g.GainSetting) {
		parts = append(parts, fmt.Sprintf("gain %g", g.GainSetting))
	}
	if !math.IsNaN(g.OffsetSetting) {
		parts = append(parts, fmt.Sprintf("offset %g", g.OffsetSetting))
	}
	if g.ReadoutMode != "" {
		parts = append(parts, "read out "+Printable(string(g.ReadoutMode)))
	}
	if g.Processed() {
		parts = append(parts, "processed")
	}
	if g.BinX > 1 || g.BinY > 1 {
		parts = append(parts, fmt.Sprintf("bin %dx%d", g.BinX, g.BinY))
	}
	if g.distinct != "" {
		parts = append(parts, g.distinct)
	}
	return strings.Join(parts, " ")
}

// Temperature is what the group was shot at, °C: the one that was set, where the
// sensor reached it or does not tell, else the sensor's middle one; NaN when
// neither is known.
func (g *Group) Temperature() float64 {
	if len(g.Frames) > 0 && g.Frames[0].missedSetPoint() {
		return middle(g.Frames, func(f *Frame) float64 { return f.Meta.SensorTemp })
	}
	return g.SetTemp
}

// missedSetPoint tells that the sensor was not where it was set to: the cooler
// was off, or did not get there.
func (f *Frame) missedSetPoint() bool {
	return math.Abs(f.Meta.SensorTemp-f.Meta.SetTemp) > temperatureTolerance
}

// distinguish makes labels unique by the camera, the size, the angle of the
// camera, and at last a count.
func distinguish(groups []*Group) {
	for _, what := range []func(*Group) string{
		func(g *Group) string { return known(g.Camera, "unknown camera") },
		func(g *Group) string { return fmt.Sprintf("%dx%d px", g.Width, g.Height) },
		func(g *Group) string { return g.Rotation().String() },
	} {
		for _, same := range sameLabels(groups) {
			if !slices.ContainsFunc(same[1:], func(g *Group) bool { return what(g) != what(same[0]) }) {
				continue
			}
			for _, g := range same {
				g.distinct = strings.TrimSpace(g.distinct + " " + what(g))
			}
		}
	}
	for _, same := range sameLabels(groups) {
		for i, g := range same[1:] {
			g.distinct = strings.TrimSpace(fmt.Sprintf("%s #%d", g.distinct, i+2))
		}
	}
}

// sameLabels are the groups that share a label with another, in their order.
func sameLabels(groups []*Group) [][]*Group {
	byLabel := map[string][]*Group{}
	var order []string
	for _, g := range groups {
		l := g.Label()
		if byLabel[l] == nil {
			order = append(order, l)
		}
		byLabel[l] = append(byLabel[l], g)
	}
	var shared [][]*Group
	for _, l := range order {
		if len(byLabel[l]) > 1 {
			shared = append(shared, byLabel[l])
		}
	}
	return shared
}

func known(n names.Name, otherwise string) string {
	if n == "" {
		return otherwise
	}
	return Printable(string(n))
}

// Groups sorts readable single frames (no masters) into groups, in an order that does not
// depend on that of the files: by kind, then by label. Time order within a group.
func Groups(fs []*Frame) []*Group {
	frames := make([]*Frame, 0, len(fs))
	for _, f := range fs {
		if f.Err == nil && !f.Master {
			frames = append(frames, f)
		}
	}
	// Groups of numbers with a tolerance grow from the smallest value up, so
	// that they do not depend on the order of the files.
	slices.SortStableFunc(frames, func(a, b *Frame) int {
		return cmp.Or(
			cmp.Compare(a.temperature(), b.temperature()),
			cmp.Compare(a.Meta.Exposure, b.Meta.Exposure),
			names.Natural(a.Name, b.Name))
	})
	var groups []*Group
	alike := map[groupKey][]*Group{}
	for _, f := range frames {
		g := newGroup(f)
		key := g.key()
		i := slices.IndexFunc(alike[key], func(h *Group) bool { return h.admits(g) })
		if i < 0 {
			groups = append(groups, g)
			alike[key] = append(alike[key], g)
			continue
		}
		alike[key][i].Frames = append(alike[key][i].Frames, f)
	}
	groups = byRotation(groups)
	for _, g := range groups {
		g.settle()
	}
	slices.SortStableFunc(groups, func(a, b *Group) int {
		return cmp.Or(
			cmp.Compare(kindOrder[a.Kind], kindOrder[b.Kind]),
			names.Natural(a.Label(), b.Label()),
			cmp.Compare(a.Camera, b.Camera),
			cmp.Compare(a.Width, b.Width), cmp.Compare(a.Height, b.Height),
			cmp.Compare(a.SetTemp, b.SetTemp))
	})
	distinguish(groups)
	return groups
}

var kindOrder = map[Kind]int{Bias: 0, Dark: 1, Flat: 2, Light: 3, Unknown: 4}

func (f *Frame) temperature() float64 {
	if !math.IsNaN(f.Meta.SetTemp) {
		return f.Meta.SetTemp
	}
	return f.Meta.SensorTemp
}

// BiasExposure is how long a group of bias frames gathered dark current, s: 0 but where
// short darks stand in for them, or their headers tell of as long an exposure; of a longer
// one they are not believed.
func (g *Group) BiasExposure() float64 {
	if g.Kind == Bias && g.Exposure > shortestDark && g.Exposure <= longestStandIn {
		return g.Exposure
	}
	return 0
}

// DarksAreBias tells that darks of the group's exposure are bias frames.
func (g *Group) DarksAreBias() bool { return g.Exposure <= shortestDark }

// newGroup is the group of one frame, with what does not split its kind left
// at NaN or "".
func newGroup(f *Frame) *Group {
	m := f.Meta
	g := &Group{
		Kind: f.Kind, Camera: m.Camera, Width: f.Image.Width, Height: f.Image.Height, BinX: m.BinX, BinY: m.BinY,
		GainSetting: m.GainSetting, OffsetSetting: m.OffsetSetting, SetTemp: f.temperature(), Exposure: m.Exposure,
		ReadoutMode: m.ReadoutMode,
		Frames:      []*Frame{f},
	}
	if f.Kind == Flat || f.Kind == Light {
		g.Filter = m.Filter
	}
	if f.Kind == Light {
		g.Target = m.Target
	}
	return g
}

// groupKey is what must agree exactly within a group. Unknown numbers agree
// with each other.
type groupKey struct {
	kind           Kind
	camera         names.Name
	width, height  int
	binX, binY     int
	gain, offset   string
	readout        names.Name
	filter, target names.Name
	missed         bool // the set point; not of lights
	processed      bool
}

func (g *Group) key() groupKey {
	return groupKey{g.Kind, g.Camera, g.Width, g.Height, g.BinX, g.BinY,
		fmt.Sprint(g.GainSetting), fmt.Sprint(g.OffsetSetting), g.ReadoutMode, g.Filter, g.Target, g.Kind != Light && g.Frames[0].missedSetPoint(), g.Processed()}
}

// admits tells whether the frame that o was made of, alike in its key, is
// within the tolerances of g.
func (g *Group) admits(o *Group) bool {
	if g.Kind != Light && !same(g.SetTemp, o.SetTemp, temperatureTolerance) {
		return false
	}
	if g.Kind == Dark || g.Kind == Light || g.Kind == Unknown {
		return same(g.Exposure, o.Exposure, exposureTolerance*g.Exposure)
	}
	return true
}

// settle puts a group's frames in time order, and its temperature and exposure
// at the middle one's of their values.
func (g *Group) settle() {
	g.SetTemp = middle(g.Frames, (*Frame).temperature)
	if g.Kind != Flat {
		g.Exposure = middle(g.Frames, func(f *Frame) float64 { return f.Meta.Exposure })
	} else if !sameExposure(g.Frames) {
		g.Exposure = math.NaN()
	}
	slices.SortStableFunc(g.Frames, func(a, b *Frame) int {
		return cmp.Or(a.Meta.Start.Compare(b.Meta.Start), names.Natural(a.Name, b.Name))
	})
}

// middle is a value that one of the frames has: the lower middle one.
func middle(fs []*Frame, value func(*Frame) float64) float64 {
	values := make([]float64, len(fs))
	for i, f := range fs {
		values[i] = value(f)
	}
	slices.Sort(values)
	return values[(len(values)-1)/2]
}

// Processed tells that a group is of such lights; raw and processed ones never share one.
func (g *Group) Processed() bool { return len(g.Frames) > 0 && g.Frames[0].Processed() }
