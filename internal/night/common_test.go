package night_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// Folds of a nebula hide the few stars of a field from every sub: what a narrow filter finds in
// one, and others show at one shift, tells what each lets through. The folds alone tell nothing.
func TestLightBesideFolds(t *testing.T) {
	const dimmed, through = 6, 0.4
	for _, c := range []struct {
		name   string
		points float64 // e- in every star
	}{{"stars", 4500}, {"folds alone", 0}} {
		dir := t.TempDir()
		rng := rand.New(rand.NewPCG(3, 8))
		for i := range 9 {
			clear := 1.0
			if i == dimmed {
				clear = through
			}
			writeFolds(t, filepath.Join(dir, fmt.Sprintf("L_%d.fits", i)), i, rng, c.points*clear)
		}
		r, err := night.Run(t.Context(), []string{dir}, night.DefaultSettings(), nil)
		if err != nil {
			t.Fatal(err)
		}
		told := 0
		for i, s := range r.Subs {
			v := s.Transparency.Ratio
			if v.OK() {
				told++
			}
			if i == dimmed && c.name == "stars" && !(v.OK() && math.Abs(v.V-through) < 3*v.Err && s.Verdict == subs.Cull) {
				t.Errorf("a sub of %v of the light: %v, %s", through, v, s.Verdict)
			}
			if i != dimmed && s.Verdict != subs.Keep && c.name == "stars" {
				t.Errorf("sub %d is clear, and judged %s %v", i, s.Verdict, s.Causes)
			}
		}
		if want := map[bool]int{true: 9}[c.name == "stars"]; told != want {
			t.Errorf("%s: the light of %d subs is told, want %d", c.name, told, want)
		}
	}
}

// writeFolds writes a sub of a sky of 1000 e- under broad folds, with five stars of 1.7 px in
// another place each time.
func writeFolds(t *testing.T, name string, number int, rng *rand.Rand, points float64) {
	const w, h, sky, dither = 400, 320, 1000, 9
	dx, dy := dither*(2*rng.Float64()-1), dither*(2*rng.Float64()-1)
	gauss := func(x, y, sd float64) float64 { return math.Exp(-(x*x + y*y) / (2 * sd * sd)) }
	const sd = 1.7 / 2.3548
	signed := make([]int16, 0, w*h)
	for y := range h {
		for x := range w {
			px, py := float64(x)-dx, float64(y)-dy
			e := sky + 700*gauss(px-120, py-90, 28) + 500*gauss(px-290, py-210, 32) + 400*gauss(px-300, py-70, 25)
			for _, at := range [][2]float64{{60.2, 50.4}, {330.7, 130.1}, {200.3, 160.6}, {80.5, 250.2}, {230.8, 270.9}} {
				if math.Abs(px-at[0]) < 8 && math.Abs(py-at[1]) < 8 {
					e += points / (2 * math.Pi * sd * sd) * gauss(px-at[0], py-at[1], sd)
				}
			}
			signed = append(signed, int16(int(e+math.Sqrt(e)*rng.NormFloat64())-32768))
		}
	}
	out, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	f, err := fitsio.Create(out)
	if err != nil {
		t.Fatal(err)
	}
	img := fitsio.NewImage(16, []int{w, h})
	err = errors.Join(img.Header().Append([]fitsio.Card{{Name: "BZERO", Value: 32768}, {Name: "BSCALE", Value: 1}, {Name: "IMAGETYP", Value: "Light Frame"},
		{Name: "EXPTIME", Value: 120.0}, {Name: "FILTER", Value: "L"}, {Name: "OBJECT", Value: "Heron"}, {Name: "EGAIN", Value: 1.0}, {Name: "XPIXSZ", Value: 3.76},
		{Name: "FOCALLEN", Value: 500.0}, {Name: "DATE-OBS", Value: fmt.Sprintf("2025-03-01T22:%02d:00", 2*number)}}...),
		img.Write(signed), f.Write(img), f.Close())
	if err != nil {
		t.Fatal(err)
	}
}
