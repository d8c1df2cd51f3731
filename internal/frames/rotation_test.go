package frames

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Flats of two rotations in one folder are two sets, and so are the subs.
func TestGroupsByRotation(t *testing.T) {
	turned := func(n int, kind Kind, onSky bool, angles ...float64) (fs []*Frame) {
		for i := range n {
			for _, a := range angles {
				fs = append(fs, madeFrame(kind, func(f *Frame) {
					f.Name = fmt.Sprintf("%s %g %d", kind, a, i)
					f.Meta.Rotator, f.Meta.RotatorOnSky = a, onSky
				}))
			}
		}
		return fs
	}
	nan := math.NaN()
	sweep := make([]float64, 120) // a rotator that follows the field through 60°
	for i := range sweep {
		sweep[i] = 330 + 0.5*float64(i)
		if sweep[i] >= 360 {
			sweep[i] -= 360
		}
	}
	for _, c := range []struct {
		name string
		fs   []*Frame
		want []string
	}{
		{"two flat sets", turned(3, Flat, false, 45.1, 45.3, 120), []string{"flat no filter -10 °C gain 100 rotator at 120°: 3", "flat no filter -10 °C gain 100 rotator at 45°: 6"}},
		{"flats and unknown", turned(2, Flat, false, 45, nan), []string{"flat no filter -10 °C gain 100 rotation unknown: 2", "flat no filter -10 °C gain 100 rotator at 45°: 2"}},
		{"around zero", turned(2, Flat, false, 359.5, 0.5, -1), []string{"flat no filter -10 °C gain 100: 6"}},
		{"around zero, and another", turned(2, Light, false, 359.5, 0.5, 90, 358.1), []string{"light M 33 Ha 300 s gain 100 rotator at 0°: 6", "light M 33 Ha 300 s gain 100 rotator at 90°: 2"}},
		{"half a turn", turned(2, Light, false, 10, 190), []string{"light M 33 Ha 300 s gain 100 rotator at 10°: 2", "light M 33 Ha 300 s gain 100 rotator at 190°: 2"}},
		{"a pier flip seen on the sky", turned(2, Light, true, 10, 190), []string{"light M 33 Ha 300 s gain 100: 4"}},
		{"turned, seen on the sky", turned(2, Light, true, 10, 100), []string{"light M 33 Ha 300 s gain 100 position angle 10°: 2", "light M 33 Ha 300 s gain 100 position angle 100°: 2"}},
		{"field rotator", turned(1, Light, false, sweep...), []string{"light M 33 Ha 300 s gain 100: 120"}},
		{"darks do not care", turned(2, Dark, false, 10, 190), []string{"dark 300 s -10 °C gain 100: 4"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(2, 2))
			for range 5 {
				rng.Shuffle(len(c.fs), func(i, j int) { c.fs[i], c.fs[j] = c.fs[j], c.fs[i] })
				var got []string
				for _, g := range Groups(c.fs) {
					got = append(got, fmt.Sprintf("%s: %d", g.Label(), len(g.Frames)))
				}
				slices.Sort(got)
				slices.Sort(c.want)
				if diff := cmp.Diff(c.want, got); diff != "" {
					t.Fatalf("(-want +got):\n%s", diff)
				}
			}
		})
	}
}

func TestRotationGap(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		a, b Rotation
		want float64
	}{
		{Rotation{10, false}, Rotation{350, false}, 20},
		{Rotation{0, false}, Rotation{180, false}, 180},
		{Rotation{-90, false}, Rotation{270, false}, 0},
		{Rotation{0, true}, Rotation{180, true}, 0},
		{Rotation{5, true}, Rotation{-85, true}, 90},
		{Rotation{5, true}, Rotation{5, false}, nan},
		{Rotation{nan, false}, Rotation{5, false}, nan},
	} {
		if got := c.a.gap(c.b); math.Abs(got-c.want) > 1e-9 || math.IsNaN(got) != math.IsNaN(c.want) {
			t.Errorf("%v and %v: %g, want %g", c.a, c.b, got, c.want)
		}
	}
}

func TestRotationHeaders(t *testing.T) {
	for _, c := range []struct {
		cards []string
		want  string
	}{
		{[]string{"ROTATANG= 45.5", "ROTSKYPA= 12.0"}, "rotator at 46°"},
		{[]string{"OBJCTROT= 12.0"}, "position angle 12°"},
		{nil, "rotation unknown"},
	} {
		f := scanBytes(t, "x.fits", twoByTwo(c.cards...))
		if got := f.Meta.rotation().String(); got != c.want {
			t.Errorf("%q: %s, want %s", c.cards, got, c.want)
		}
	}
}
