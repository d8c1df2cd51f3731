package calib

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"fitsqa/internal/frames"
)

// Each property on both sides of what it may differ by; the gravest decides which
// candidate is the best.
func TestMismatches(t *testing.T) {
	t.Parallel()
	group := func(kind frames.Kind, change func(g *frames.Group)) *frames.Group {
		m := frames.NoMeta()
		m.SensorTemp = -10
		g := &frames.Group{Kind: kind, Camera: "Invented Mono 1", Width: 100, Height: 80, BinX: 1, BinY: 1, GainSetting: 100, OffsetSetting: 50,
			SetTemp: -10, Exposure: 300, Filter: "L", Frames: []*frames.Frame{{Kind: kind, Meta: m}}}
		change(g)
		return g
	}
	warm := func(celsius float64) func(*frames.Group) {
		return func(g *frames.Group) { g.Frames[0].Meta.SensorTemp = celsius }
	}
	turned := func(degrees float64) func(*frames.Group) {
		return func(g *frames.Group) { g.Frames[0].Meta.Rotator = degrees }
	}
	none := math.NaN()
	lights := group(frames.Light, turned(30))
	a := &analysis{opt: DefaultOptions}
	for name, c := range map[string]struct {
		g    *frames.Group
		want []Mismatch
	}{
		"the same":             {group(frames.Dark, func(*frames.Group) {}), nil},
		"0.9 % longer":         {group(frames.Dark, func(g *frames.Group) { g.Exposure = 302.7 }), nil},
		"twice as long":        {group(frames.Dark, func(g *frames.Group) { g.Exposure = 600 }), []Mismatch{{OfExposure, "600 s", "300 s", math.Ln2, 0.01}}},
		"0.9 °C warmer":        {group(frames.Dark, warm(-9.1)), nil},
		"1.1 °C warmer":        {group(frames.Dark, warm(-8.9)), []Mismatch{{OfTemperature, "-8.9 °C", "-10.0 °C", 1.1, 1}}},
		"a bias 4 °C warmer":   {group(frames.Bias, warm(-6)), nil},
		"a bias 6 °C warmer":   {group(frames.Bias, warm(-4)), []Mismatch{{OfTemperature, "-4.0 °C", "-10.0 °C", 6, 5}}},
		"gain":                 {group(frames.Bias, func(g *frames.Group) { g.GainSetting = 0 }), []Mismatch{{OfGain, "0", "100", none, none}}},
		"gain unknown":         {group(frames.Bias, func(g *frames.Group) { g.GainSetting = none }), nil},
		"filter":               {group(frames.Flat, func(g *frames.Group) { g.Filter, g.Frames[0].Meta.Rotator = "Ha", 30 }), []Mismatch{{OfFilter, "Ha", "L", none, none}}},
		"a flat 1.5° round":    {group(frames.Flat, turned(31.5)), nil},
		"a flat 2.5° round":    {group(frames.Flat, turned(32.5)), []Mismatch{{OfRotation, group(frames.Flat, turned(32.5)).Rotation().String(), "30°", none, none}}},
		"another binned frame": {group(frames.Flat, func(g *frames.Group) { g.BinX, g.BinY, g.Width, g.Frames[0].Meta.Rotator = 2, 2, 50, 30 }), []Mismatch{{OfBinning, "2x2", "1x1", none, none}, {OfSize, "50x80", "100x80", none, none}}},
	} {
		got := a.weigh(c.g, lights).mismatches
		if diff := cmp.Diff(c.want, got, cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	// Flats that name no filter are those of the only one that their camera's subs name.
	nameless, other := group(frames.Flat, func(g *frames.Group) { g.Filter, g.Frames[0].Meta.Rotator = "", 30 }), group(frames.Light, func(g *frames.Group) { g.Filter = "Ha" })
	for _, l := range []struct {
		all  []*frames.Group
		want []Mismatch
	}{
		{[]*frames.Group{lights}, nil},
		{[]*frames.Group{lights, other}, []Mismatch{{OfFilter, "unknown", "L", none, none}}},
	} {
		a.lights = l.all
		c := a.weigh(nameless, lights)
		if diff := cmp.Diff(l.want, c.mismatches, cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" || slices.Contains(c.unknown, OfFilter) == (l.want != nil) {
			t.Errorf("flats without a filter beside subs of %d: unknown %v (-want +got):\n%s", len(l.all), c.unknown, diff)
		}
	}
	// Darks of another exposure can be scaled, down from any and up to twice theirs; of another
	// temperature they cannot be: those are the last to be taken.
	far := a.weigh(group(frames.Dark, warm(-12)), lights)
	for exposure, better := range map[float64]bool{150: true, 600: true, 1800: true, 149: false, 60: false} {
		scaled := a.weigh(group(frames.Dark, func(g *frames.Group) { g.Exposure = exposure }), lights)
		if got := scaled.gravity() < far.gravity(); got != better {
			t.Errorf("darks of %g s before such of another temperature: %v", exposure, got)
		}
		if fit := (&Fit{Kind: frames.Dark, Mismatches: scaled.mismatches}); fit.Serves() != better {
			t.Errorf("darks of %g s serve: %v", exposure, !better)
		}
	}
	usable := &candidate{mismatches: []Mismatch{{Property: OfTemperature}}}
	if !usable.only(OfTemperature) || usable.only(OfExposure) || !(&candidate{}).only(OfExposure) {
		t.Error("what alone stands against a candidate is mistaken")
	}
	for p, spoils := range map[Property]bool{OfGain: false, OfOffset: false, OfRotation: false, OfFilter: true, OfSize: true, OfBinning: true, OfCamera: true} {
		if (Mismatch{Property: p}).spoilsFlat() != spoils {
			t.Errorf("%s spoils a flat: %v", p, !spoils)
		}
	}
}
