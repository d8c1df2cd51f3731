package frames

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/names"
)

// madeFrame is a frame with metadata and no file.
func madeFrame(kind Kind, change func(f *Frame)) *Frame {
	f := &Frame{Kind: kind, Meta: NoMeta(), Image: Layout{Width: 100, Height: 80, Planes: 1}}
	f.Meta.Camera, f.Meta.GainSetting, f.Meta.SetTemp, f.Meta.Exposure = "cam", 100, -10, 300
	if kind == Light {
		f.Meta.Target, f.Meta.Filter = "M 33", "Ha"
	}
	if change != nil {
		change(f)
	}
	return f
}

func TestGroups(t *testing.T) {
	var fs []*Frame
	add := func(n int, kind Kind, change func(f *Frame)) {
		for range n {
			f := madeFrame(kind, change)
			f.Name = fmt.Sprintf("%03d.fits", len(fs))
			f.Meta.Start = time.Unix(int64(1e9-60*len(fs)), 0) // later names were shot earlier
			fs = append(fs, f)
		}
	}
	add(3, Light, nil)
	add(2, Light, func(f *Frame) { f.Meta.Exposure = 302 }) // within 1 %
	add(1, Light, func(f *Frame) { f.Meta.Exposure = 120 })
	add(2, Light, func(f *Frame) { f.Meta.SetTemp = 20 }) // temperature does not split lights
	add(1, Light, func(f *Frame) { f.Meta.Target = "m33" })
	add(1, Light, func(f *Frame) { f.Meta.Filter = "" })
	add(2, Light, func(f *Frame) { f.Meta.GainSetting = math.NaN() })
	add(2, Bias, nil)
	add(1, Bias, func(f *Frame) { f.Meta.SetTemp = -9.1 }) // within 1 °C
	add(1, Bias, func(f *Frame) { f.Meta.SetTemp = 0 })
	add(1, Bias, func(f *Frame) { f.Meta.Filter = "Ha"; f.Meta.Exposure = 0.001 }) // neither counts for a bias
	add(2, Dark, nil)
	add(1, Dark, func(f *Frame) { f.Meta.Exposure = 60 })
	add(1, Dark, func(f *Frame) { f.Meta.SetTemp = math.NaN(); f.Meta.SensorTemp = -10.3 })
	add(2, Flat, func(f *Frame) { f.Meta.Filter = "Ha"; f.Meta.Exposure = 2 })
	add(2, Flat, func(f *Frame) { f.Meta.Filter = "Ha"; f.Meta.Exposure = 9 }) // another level, the same set
	add(1, Flat, func(f *Frame) { f.Meta.Filter = "OIII" })
	add(1, Dark, func(f *Frame) { f.Image.Width = 200 })
	add(1, Dark, func(f *Frame) { f.Master = true })
	add(1, Dark, func(f *Frame) { f.Err = &FormatError{} })
	want := []string{
		"bias -10 °C gain 100: 4",
		"bias 0 °C gain 100: 1",
		"dark 60 s -10 °C gain 100: 1",
		"dark 300 s -10 °C gain 100 100x80 px: 3",
		"dark 300 s -10 °C gain 100 200x80 px: 1",
		"flat Ha -10 °C gain 100: 4",
		"flat OIII -10 °C gain 100: 1",
		"light M 33 Ha 120 s gain 100: 1",
		"light M 33 Ha 300 s: 2",
		"light M 33 Ha 300 s gain 100: 8",
		"light M 33 no filter 300 s gain 100: 1",
	}
	oneSpelling(fs)
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5 {
		rng.Shuffle(len(fs), func(i, j int) { fs[i], fs[j] = fs[j], fs[i] })
		var got []string
		for _, g := range Groups(fs) {
			got = append(got, fmt.Sprintf("%s: %d", g.Label(), len(g.Frames)))
			if !slices.IsSortedFunc(g.Frames, func(a, b *Frame) int { return a.Meta.Start.Compare(b.Meta.Start) }) {
				t.Errorf("%s is not in time order", g.Label())
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("groups (-want +got):\n%s", diff)
		}
	}
	if g := Groups(nil); len(g) != 0 {
		t.Errorf("%d groups of nothing", len(g))
	}
}

// Names in use for one filter are one, shown as the first is written; what carries more
// than the name is another filter.
func TestOneFilterByManyNames(t *testing.T) {
	var fs []*Frame
	for _, name := range []names.Name{"H-alpha", "Ha", "ha", "HALPHA", "Hα", "Ha 7nm", "Lum", "L", "luminance", "O-III", "o3", "Red", "R", "V"} {
		fs = append(fs, madeFrame(Light, func(f *Frame) { f.Meta.Filter = name }))
	}
	oneSpelling(fs)
	var got []names.Name
	for _, f := range fs {
		got = append(got, f.Meta.Filter)
	}
	want := []names.Name{"H-alpha", "H-alpha", "H-alpha", "H-alpha", "H-alpha", "Ha 7nm", "Lum", "Lum", "Lum", "O-III", "O-III", "Red", "Red", "V"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("filters (-want +got):\n%s", diff)
	}
}

func TestLabelsAreUnique(t *testing.T) {
	fs := []*Frame{
		madeFrame(Light, func(f *Frame) { f.Meta.Camera = "a" }),
		madeFrame(Light, func(f *Frame) { f.Meta.Camera = "b" }),
		madeFrame(Light, func(f *Frame) { f.Meta.Camera = "b"; f.Image.Height = 90 }),
		madeFrame(Unknown, func(f *Frame) { f.Meta = NoMeta() }),
		madeFrame(Bias, func(f *Frame) { f.Meta = NoMeta() }),
		madeFrame(Dark, func(f *Frame) { f.Meta = NoMeta(); f.Meta.BinX, f.Meta.BinY = 2, 2 }),
		madeFrame(Light, func(f *Frame) { f.Meta = NoMeta(); f.Meta.Target = "\x1b[31m" }),
	}
	var got []string
	for _, g := range Groups(fs) {
		got = append(got, g.Label())
	}
	want := []string{
		"bias",
		"dark exposure unknown bin 2x2",
		"light M 33 Ha 300 s gain 100 a",
		"light M 33 Ha 300 s gain 100 b 100x80 px",
		"light M 33 Ha 300 s gain 100 b 100x90 px",
		`light \x1b[31m no filter exposure unknown`,
		"frame of unknown kind exposure unknown",
	}
	slices.Sort(got)
	slices.Sort(want)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("labels (-want +got):\n%s", diff)
	}
}
