package catalogue

import (
	"cmp"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
)

// Places at equinox and epoch 2000 of stars that everybody knows, from memory of the
// Hipparcos catalogue (ESA 1997), and Johnson V. 3 arcsec holds nine years' motion
// at up to 0.25 arcsec a year; V_T is within 0.35 of V, for colours B-V up to 1.9 and
// magnitudes of variable stars.
func TestWellKnownStars(t *testing.T) {
	for _, s := range []struct {
		name       string
		ra, dec, v float64
	}{
		{"alpha Orionis", 88.79294, 7.40706, 0.45},
		{"beta Orionis", 78.63447, -8.20164, 0.18},
		{"alpha Leonis", 152.09296, 11.96721, 1.36},
		{"alpha Virginis", 201.29825, -11.16132, 0.98},
		{"alpha Cygni", 310.35798, 45.28034, 1.25},
		{"sigma Octantis", 317.19534, -88.95650, 5.45},
		{"alpha Andromedae", 2.09692, 29.09043, 2.07},
	} {
		near := Cone(s.ra, s.dec, 3.0/3600, 10)
		if len(near) != 1 {
			t.Errorf("%s: %d stars there", s.name, len(near))
			continue
		}
		if d := math.Abs(near[0].Mag - s.v); d > 0.35 {
			t.Errorf("%s: V_T %.2f, V %.2f", s.name, near[0].Mag, s.v)
		}
	}
}

func TestTheWholeSky(t *testing.T) {
	all := Cone(0, 0, 180, 30)
	if n := Count(0, 0, 180, 30); n != len(all) {
		t.Errorf("%d are counted of %d stars", n, len(all))
	}
	if len(all) != 1871011 {
		t.Errorf("%d stars", len(all))
	}
	if m := all[len(all)/2].Mag; !(math.Abs(m-11.1) <= 0.1) {
		t.Errorf("median V_T %.2f", m)
	}
	for i, want := range perDegree {
		n, _ := slices.BinarySearchFunc(all, float64(4+i), func(s Star, m float64) int { return cmp.Compare(s.Mag, m) })
		if got := float64(n) / 41252.96; !(math.Abs(got/want-1) <= 0.01) { // as many digits as are written down
			t.Errorf("down to V_T %d: %.4g a square degree, written down %g", 4+i, got, want)
		}
	}
	if got := LimitFor(perDegree[3]); !(math.Abs(got-7) <= 1e-9) {
		t.Errorf("limit %g", got)
	}
}

// scattered stars, some at the poles and at the seams of right ascension.
func scattered(n int) []Star {
	rng := rand.New(rand.NewPCG(1, 2))
	list := []Star{{0, 90, 2}, {0, -90, 3}, {359.9999999, 0, 4}, {0, 0, 5}, {180, 89.9999, -1.4}, {12, 89, 29.9}}
	for range n {
		list = append(list, Star{360 * rng.Float64(), math.Asin(2*rng.Float64()-1) / rad, 12 * rng.Float64()})
	}
	return list
}

// Places come back to 0.06 arcsec of a cell 1 degree high and up to 2.1 wide (at the
// poles), so to 0.07 arcsec off the middle of a step, and magnitudes to half a step.
func TestPackedStarsComeBack(t *testing.T) {
	list := scattered(8000)
	file, err := Pack(list)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range list {
		found := false
		for _, c := range cone(file, s.RA, s.Dec, 0.1/3600, 30) {
			found = found || math.Abs(c.Mag-s.Mag) <= 0.00501
		}
		if !found {
			t.Fatalf("%+v is not there", s)
		}
	}
}

// The slow way: all stars, one by one.
func TestConeAgainstAllStars(t *testing.T) {
	file, err := Pack(scattered(8000))
	if err != nil {
		t.Fatal(err)
	}
	all := cone(file, 0, 0, 180, 30)
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range 100 {
		ra, dec, radius := 360*rng.Float64(), 180*rng.Float64()-90, 15*rng.Float64()
		switch i % 4 {
		case 1:
			dec = 90 - radius*rng.Float64()
		case 2:
			ra = 0
		case 3:
			dec = -90
		}
		want := 0
		for _, s := range all {
			if s.Mag <= 9 && Separation(ra, dec, s.RA, s.Dec) <= radius {
				want++
			}
		}
		if got := len(cone(file, ra, dec, radius, 9)); got != want {
			t.Errorf("%.3f %.3f, radius %.3f: %d stars, want %d", ra, dec, radius, got, want)
		}
	}
}

func TestPackRefusesWhatIsNoStar(t *testing.T) {
	for _, s := range []Star{{360, 0, 1}, {0, 91, 1}, {0, 0, -3}, {math.NaN(), 0, 1}, {0, math.NaN(), 1}, {0, 0, math.NaN()}} {
		if _, err := Pack([]Star{s}); err == nil {
			t.Errorf("%+v was packed", s)
		}
	}
}

func TestFileIsSmallAndLicensed(t *testing.T) {
	if len(tycho2) > 12<<20 {
		t.Errorf("the file has %d bytes", len(tycho2))
	}
	if _, err := os.Stat("LICENSE-tycho2"); err != nil {
		t.Error(err)
	}
}

// Whatever the bytes, decoding ends and gives nothing outside the cell's band.
func FuzzDecode(f *testing.F) {
	file, _ := Pack(scattered(50))
	f.Add(file)
	f.Add(file[:len(file)-3])
	f.Add([]byte(mark))
	f.Fuzz(func(t *testing.T, file []byte) {
		for _, s := range cone(file, 10, 88, 3, 30) {
			if !(s.Dec >= 84 && s.Dec <= 90) {
				t.Errorf("%+v", s)
			}
		}
	})
}

func BenchmarkCone(b *testing.B) {
	for b.Loop() {
		Cone(310, 45, 1.5, 30)
	}
}
