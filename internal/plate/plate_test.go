package plate

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/catalogue"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
)

var long = flag.Bool("long", false, "try 1000 fields that are nowhere, which takes minutes")

// camera is a made frame's truth.
type camera struct {
	ra, dec, angle, width float64 // degrees
	mirrored              bool
	faint                 int // stars of the field that the catalogue does not have
}

const wide, high = 4000, 2700 // px

// truth is the map of a made frame, written down by itself: the pixel scale is that of
// the frame's middle.
func (c camera) truth() *Solution {
	s := &Solution{width: wide, height: high, RA: c.ra, Dec: c.dec}
	// The tangent of half the width is half the frame.
	step := 2 * math.Tan(c.width/2*rad) / rad / wide
	sin, cos := math.Sincos(c.angle * rad)
	// +y points to the position angle; +x is right of it, west of north.
	s.m = [4]float64{-step * cos, step * sin, step * sin, step * cos}
	if c.mirrored {
		s.m[0], s.m[2] = -s.m[0], -s.m[2]
	}
	s.describe()
	return s
}

// frame shows the catalogue's stars through a filter that changes their order, with
// errors of place, some missing, among stars that the catalogue lacks.
func (c camera) frame(rng *rand.Rand) *stars.Field {
	f := &stars.Field{Width: wide, Height: high}
	truth := c.truth()
	for _, s := range catalogue.Cone(c.ra, c.dec, c.width*0.62+0.05, faintest) {
		x, y, ok := truth.pixel(direction(s.RA, s.Dec), direction(truth.RA, truth.Dec))
		if !ok || !truth.inside(x, y) || rng.Float64() < 0.1 {
			continue
		}
		colour := 0.4 * rng.NormFloat64()
		f.Stars = append(f.Stars, stars.Star{X: x + 0.2*rng.NormFloat64(), Y: y + 0.2*rng.NormFloat64(), Flux: math.Pow(10, -0.4*(s.Mag+colour-20)), FluxErr: 10})
	}
	// Fainter ones, from where the catalogue ends there down to 16: numbers grow by a
	// factor of 2.5 a magnitude (common practice, no source).
	there := catalogue.Cone(c.ra, c.dec, max(1, c.width), faintest)
	end := there[len(there)*9/10].Mag
	for range c.faint {
		mag := end + math.Log(1+rng.Float64()*(math.Pow(2.5, 16-end)-1))/math.Log(2.5)
		f.Stars = append(f.Stars, stars.Star{X: wide * rng.Float64(), Y: high * rng.Float64(), Flux: math.Pow(10, -0.4*(mag-20)), FluxErr: 10})
	}
	slices.SortFunc(f.Stars, func(a, b stars.Star) int { return cmp.Compare(b.Flux, a.Flux) })
	f.Count = len(f.Stars)
	return f
}

// shown is how many catalogue stars fall into the frame.
func (c camera) shown() (n int) {
	truth := c.truth()
	for _, s := range catalogue.Cone(c.ra, c.dec, c.width*0.62+0.05, faintest) {
		if x, y, ok := truth.pixel(direction(s.RA, s.Dec), direction(truth.RA, truth.Dec)); ok && truth.inside(x, y) {
			n++
		}
	}
	return n
}

// hint is off by so much of what it may be off by.
func (c camera) hint(rng *rand.Rand, far, stretch float64) Hint {
	turn := 2 * math.Pi * rng.Float64()
	away := lift(point{math.Tan(far*rad) / rad * math.Cos(turn), math.Tan(far*rad) / rad * math.Sin(turn)}, direction(c.ra, c.dec))
	ra, dec := away.angles()
	return Hint{RA: ra, Dec: dec, Scale: c.truth().Scale * stretch}
}

// check holds a solution to the truth: the centre to 4 standard errors of 0.25 px a star
// and coordinate (place and catalogue), the corners, and so scale, angle and sense, to
// 4 times that. Under 12 stars a field need not be solved.
func (c camera) check(t *testing.T, name string, got Solved) bool {
	t.Helper()
	truth := c.truth()
	if got.Why.Code != "" {
		if shown := c.shown(); shown >= 12 {
			t.Errorf("%v: %d catalogue stars, not solved: %v", name, shown, got.Why)
		}
		return false
	}
	px := truth.Scale / 3600
	near := math.Sqrt2 / math.Sqrt(float64(got.Stars))
	if d := catalogue.Separation(got.RA, got.Dec, c.ra, c.dec) / px; d > near {
		t.Errorf("%s: the middle is %.2f px off (%d of %d stars)", name, d, got.Stars, got.InField)
	}
	for _, at := range [4][2]float64{{0, 0}, {wide - 1, 0}, {wide - 1, high - 1}, {0, high - 1}} {
		ra, dec := got.Sky(at[0], at[1])
		wantRA, wantDec := truth.Sky(at[0], at[1])
		if d := catalogue.Separation(ra, dec, wantRA, wantDec) / px; d > 4*near {
			t.Errorf("%s: corner %v is %.2f px off (%d of %d stars)", name, at, d, got.Stars, got.InField)
		}
	}
	if got.Mirrored != c.mirrored {
		t.Errorf("%s: mirrored: %v", name, got.Mirrored)
	}
	if turn := math.Abs(math.Remainder(got.PositionAngle-truth.PositionAngle, 360)); turn > 0.1 && math.Abs(c.dec) < 89 {
		t.Errorf("%s: position angle %.3f, want %.3f", name, got.PositionAngle, truth.PositionAngle)
	}
	return true
}

// Fields at all declinations and at the seams, 0.7 to 15 degrees wide, turned by
// anything, mirrored or not; hints 5° off, scales 30 % off either way.
func TestSolvesWithHint(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 12))
	var slowest time.Duration
	for i, place := range [][2]float64{{0, 0}, {359.9, 30}, {120, 90}, {200, -90}, {45, 89.7}, {300, -88}, {310, 45}, {83, -5}, {192, 27}, {266, -29}, {10, -70}, {150, 60}} {
		for k, width := range []float64{0.2, 0.4, 0.7, 1.5, 3, 7, 15} {
			if (i+k)%3 != 0 {
				continue // one of three is enough for the time it takes
			}
			c := camera{ra: place[0], dec: place[1], angle: 360 * rng.Float64(), width: width, mirrored: (i+k)%2 == 1, faint: 1000}
			name := fmt.Sprintf("%g %+g, %g° wide", c.ra, c.dec, c.width)
			f := c.frame(rng)
			stretch := []float64{1 / 1.3, 1, 1.3}[(i+k)%3]
			began := time.Now()
			got := Solve(context.Background(), f, c.hint(rng, 5*rng.Float64(), stretch))
			took := time.Since(began)
			slowest = max(slowest, took)
			c.check(t, name, got)
			if width < 1 {
				t.Logf("%v: %d catalogue stars: %v %v", name, c.shown(), got.Why.Code == "", got.Why)
			}
			if took > time.Second {
				t.Logf("%s: %d stars, %v", name, f.Count, took)
			}
		}
	}
	t.Logf("slowest: %v", slowest)
}

// However many tiles are searched at once, the same comes out, to the last digit.
func TestSolvesAlikeOnAnyCores(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(13, 14))
	for i, width := range []float64{1.5, 3, 7} {
		c := camera{ra: 80 + 100*float64(i), dec: 50 - 40*float64(i), angle: 77, width: width, faint: 1000}
		f, h := c.frame(rng), c.hint(rng, 4.5, 1.1)
		one := solve(context.Background(), f, h, 1)
		if one.Solution == nil {
			t.Fatalf("%g° wide: %v", width, one.Why)
		}
		for _, workers := range []int{2, 8} {
			if many := solve(context.Background(), f, h, workers); !reflect.DeepEqual(one, many) {
				t.Errorf("%g° wide, %d workers: %+v, by one %+v", width, workers, many.Solution, one.Solution)
			}
		}
	}
}

// Frames of stars that are nowhere: with a hint, at scales from narrow to wide.
func TestRandomFieldsAreNotSolved(t *testing.T) {
	t.Parallel()
	fields := 18
	switch {
	case *long:
		fields = 1000
	case testing.Short():
		fields = 6 // each width once
	}
	rng := rand.New(rand.NewPCG(21, 22))
	for i := range fields {
		f := &stars.Field{Width: wide, Height: high}
		for range 20 + rng.IntN(400) {
			f.Stars = append(f.Stars, stars.Star{X: wide * rng.Float64(), Y: high * rng.Float64(), Flux: 1000, FluxErr: 1})
		}
		width := []float64{0.7, 1.2, 2, 4, 8, 15}[i%6]
		h := Hint{RA: 360 * rng.Float64(), Dec: math.Asin(2*rng.Float64()-1) / rad, Scale: width * 3600 / wide}
		if got := Solve(context.Background(), f, h); got.Why.Code == "" {
			t.Errorf("field %d of %d stars, %g° wide: %d of %d catalogue stars, odds 10^%.1f", i, len(f.Stars), width, got.Stars, got.InField, got.LogOdds)
		}
	}
}

// What a sub costs that follows a solved one: a field of 3000 stars, 2° wide.
func BenchmarkFollow(b *testing.B) {
	rng := rand.New(rand.NewPCG(51, 52))
	c := camera{ra: 83, dec: -5, width: 2, faint: 3000}
	f := c.frame(rng)
	solved := Solve(context.Background(), f, c.hint(rng, 0.1, 1))
	if solved.Why.Code != "" {
		b.Fatal(solved.Why)
	}
	for b.Loop() {
		if got := solved.Follow(f, registration.Transform{A: 1, E: 1}); got.Why.Code != "" {
			b.Fatal(got.Why)
		}
	}
}

// And the one that is solved, from a hint a degree off.
func BenchmarkSolve(b *testing.B) {
	rng := rand.New(rand.NewPCG(51, 52))
	c := camera{ra: 83, dec: -5, width: 2, faint: 3000}
	f := c.frame(rng)
	h := c.hint(rng, 1, 1.05)
	for b.Loop() {
		if got := Solve(context.Background(), f, h); got.Why.Code != "" {
			b.Fatal(got.Why)
		}
	}
}

func TestShapeIsSorted(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 1000 { // of six numbers there are 720 orders
		var d [6]float64
		for i := range d {
			d[i] = math.Exp(20 * rng.Float64())
		}
		s, longest := shapeOf(d)
		slices.SortFunc(d[:], func(a, b float64) int { return cmp.Compare(b, a) })
		if longest != d[0] {
			t.Fatalf("longest %g of %g", longest, d)
		}
		for i := range s {
			if s[i] != d[i+1]/d[0] {
				t.Fatalf("%g of %g", s, d)
			}
		}
	}
}

// What a deeper search keeps of the sky for the others must be what they would have got.
func TestSkyDownTo(t *testing.T) {
	all := newSky(catalogue.Cone(85, 24, 2, faintest))
	for _, limit := range []float64{0, 8, 9.87, all.cat[0].Mag, faintest} {
		want := newSky(catalogue.Cone(85, 24, 2, limit))
		got := all.downTo(limit)
		if !slices.Equal(got.cat, want.cat) || !slices.Equal(got.at, want.at) {
			t.Errorf("down to %g: %d stars, not %d", limit, len(got.cat), len(want.cat))
		}
	}
}
