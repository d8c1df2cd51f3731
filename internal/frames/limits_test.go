package frames

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// What decides which frames belong together, two steps inside and two outside each
// limit: a limit that moves by a fifth fails here.
func TestLimitsOfGroups(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(f *Frame)
		groups int
		stacks int
	}{
		{"exposure 0.8 % longer", func(f *Frame) { f.Meta.Exposure = 302.4 }, 1, 1},
		{"exposure 0.9 % longer", func(f *Frame) { f.Meta.Exposure = 302.7 }, 1, 1},
		{"exposure 1.1 % longer", func(f *Frame) { f.Meta.Exposure = 303.3 }, 2, 2},
		{"exposure 1.2 % longer", func(f *Frame) { f.Meta.Exposure = 303.6 }, 2, 2},
		{"turned by 1.6°", func(f *Frame) { f.Meta.Rotator = 31.6 }, 1, 1},
		{"turned by 1.8°", func(f *Frame) { f.Meta.Rotator = 31.8 }, 1, 1},
		{"turned by 2.2°", func(f *Frame) { f.Meta.Rotator = 32.2 }, 2, 1}, // another flat, one stack
		{"turned by 2.4°", func(f *Frame) { f.Meta.Rotator = 32.4 }, 2, 1},
		{"another offset", func(f *Frame) { f.Meta.OffsetSetting = 20 }, 2, 1}, // another bias, one stack
		{"another gain", func(f *Frame) { f.Meta.GainSetting = 0 }, 2, 2},
		{"another size", func(f *Frame) { f.Image.Width = 90 }, 2, 2},
		{"another binning", func(f *Frame) { f.Meta.BinX, f.Meta.BinY = 2, 2 }, 2, 2},
		{"another camera", func(f *Frame) { f.Meta.Camera = "Two" }, 2, 2},
		{"unknown exposure", func(f *Frame) { f.Meta.Exposure = math.NaN() }, 2, 2},
		{"cut short", func(f *Frame) { f.Err, f.Image = &TruncatedError{1, 2, false}, Layout{} }, 1, 1},
		{"cut short, another filter", func(f *Frame) { f.Err, f.Meta.Filter = &TruncatedError{1, 2, false}, "R" }, 1, 2},
	} {
		var fs []*Frame
		for i := range 6 {
			f := &Frame{Name: fmt.Sprint(i), Kind: Light, Meta: NoMeta(), Image: Layout{Width: 100, Height: 80, Planes: 1}}
			f.Meta.Exposure, f.Meta.Rotator, f.Meta.GainSetting, f.Meta.OffsetSetting = 300, 30, 100, 50
			f.Meta.Target, f.Meta.Filter, f.Meta.Camera = "M 33", "Ha", "One"
			f.Meta.Start = time.Date(2026, 3, 14, 20, i, 0, 0, time.UTC)
			fs = append(fs, f)
		}
		c.change(fs[4])
		s := Sort(fs)
		total := 0
		for _, stack := range s.Stacks {
			total += len(stack)
		}
		if len(s.Groups) != c.groups || len(s.Stacks) != c.stacks || total != 6 {
			t.Errorf("%s: %d groups, %d stacks of %d subs, want %d, %d, 6", c.what, len(s.Groups), len(s.Stacks), total, c.groups, c.stacks)
		}
	}
}

// Darks and flats: 1 °C of temperature.
func TestTemperatureLimitOfGroups(t *testing.T) {
	for _, c := range []struct {
		off    float64
		groups int
	}{{0.8, 1}, {0.9, 1}, {1.1, 2}, {1.2, 2}} {
		var fs []*Frame
		for i := range 4 {
			f := &Frame{Name: fmt.Sprint(i), Kind: Dark, Meta: NoMeta(), Image: Layout{Width: 100, Height: 80, Planes: 1}}
			f.Meta.Exposure, f.Meta.SetTemp = 300, -10
			fs = append(fs, f)
		}
		fs[2].Meta.SetTemp += c.off
		if got := len(Sort(fs).Groups); got != c.groups {
			t.Errorf("%.1f °C off: %d groups, want %d", c.off, got, c.groups)
		}
	}
}
