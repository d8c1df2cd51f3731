package frames

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Rotation is how the camera was turned. An angle on the sky is known up to a
// half turn only: a pier flip turns the sky, not the camera against the
// telescope. The zero value is the angle 0; Degrees NaN stands for unknown.
type Rotation struct {
	Degrees float64
	OnSky   bool // a position angle on the sky, not the rotator's own
}

// rotationTolerance is how far apart two angles may be and count as one, °: a
// camera turned by more moves the shadows of dust far from the axis by more
// than their own width (common practice, no source).
const rotationTolerance = 2.0

// rotation is how a frame's camera was turned, as its header has it.
func (m Meta) rotation() Rotation { return Rotation{m.Rotator, m.RotatorOnSky} }

func (r Rotation) String() string {
	whole := math.Mod(math.Round(r.Degrees), r.period()) // not "360°"
	switch {
	case !r.Known():
		return "rotation unknown"
	case r.OnSky:
		return fmt.Sprintf("position angle %.0f°", whole)
	default:
		return fmt.Sprintf("rotator at %.0f°", whole)
	}
}

// Known tells whether there is an angle.
func (r Rotation) Known() bool { return !math.IsNaN(r.Degrees) }

func (r Rotation) period() float64 {
	if r.OnSky {
		return 180
	}
	return 360
}

// gap is by how many degrees two rotations differ, 0 to 180; NaN when one is
// unknown or they are of different kinds.
func (r Rotation) gap(o Rotation) float64 {
	if r.OnSky != o.OnSky {
		return math.NaN()
	}
	return math.Abs(math.Remainder(r.Degrees-o.Degrees, r.period()))
}

// Differs tells that the camera was turned between the two for certain.
func (r Rotation) Differs(o Rotation) bool { return r.gap(o) > rotationTolerance }

// Rotation is the middle of the frames' known rotations; those of the kind of
// the first known one are looked at.
func (g *Group) Rotation() Rotation {
	var first Rotation
	var off []float64
	for _, f := range g.Frames {
		r := f.Meta.rotation()
		if !r.Known() {
			continue
		}
		if off == nil {
			first = r
		}
		if r.OnSky == first.OnSky {
			off = append(off, math.Remainder(r.Degrees-first.Degrees, r.period()))
		}
	}
	if off == nil {
		return Rotation{Degrees: math.NaN()}
	}
	slices.Sort(off)
	first.Degrees = math.Mod(first.Degrees+off[(len(off)-1)/2]+first.period(), first.period())
	return first
}

// byRotation splits flats and lights where the camera was turned. Angles that
// follow each other in steps within the tolerance stay together: a rotator that
// follows the field turns all night, and two set-ups are a jump.
func byRotation(groups []*Group) []*Group {
	var split []*Group
	for _, g := range groups {
		if g.Kind != Flat && g.Kind != Light {
			split = append(split, g)
			continue
		}
		for _, part := range turns(g.Frames) {
			one := *g
			one.Frames = part
			split = append(split, &one)
		}
	}
	return split
}

// turns cuts frames into runs of angles, unknown ones a run of their own, and
// angles of different kinds apart.
func turns(fs []*Frame) [][]*Frame {
	var runs [][]*Frame
	for _, kind := range []func(r Rotation) bool{
		func(r Rotation) bool { return !r.Known() },
		func(r Rotation) bool { return r.Known() && !r.OnSky },
		func(r Rotation) bool { return r.Known() && r.OnSky },
	} {
		runs = append(runs, cutAtJumps(slices.DeleteFunc(slices.Clone(fs), func(f *Frame) bool { return !kind(f.Meta.rotation()) }))...)
	}
	return runs
}

// cutAtJumps cuts frames of one kind of angle, in the order of their angles,
// where two neighbours differ by more than the tolerance.
func cutAtJumps(fs []*Frame) [][]*Frame {
	if len(fs) == 0 {
		return nil
	}
	period := fs[0].Meta.rotation().period()
	angle := func(f *Frame) float64 { return math.Mod(math.Mod(f.Meta.Rotator, period)+period, period) }
	slices.SortStableFunc(fs, func(a, b *Frame) int { return cmp.Compare(angle(a), angle(b)) })
	from := 0
	var runs [][]*Frame
	for i := 1; i < len(fs); i++ {
		if fs[i].Meta.rotation().Differs(fs[i-1].Meta.rotation()) {
			runs = append(runs, fs[from:i])
			from = i
		}
	}
	last := fs[from:]
	// Through the angle 0 the last run may go on in the first.
	if len(runs) > 0 && !last[len(last)-1].Meta.rotation().Differs(fs[0].Meta.rotation()) {
		runs[0] = append(slices.Clone(last), runs[0]...)
		return runs
	}
	return append(runs, last)
}
