package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// A tree, a roof or frost far out of focus has soft edges, hides hardly a star and dims the
// sky with the stars, or is lit; its light is known between the few stars of a field, over an
// offset that nobody knows. A slope of moonlight takes none. Tolerance: 0.03, an eighth of
// the light that the softest takes; stars alone are off by up to 0.1.
func TestSoftCoverBySky(t *testing.T) {
	const w, h = coveredWidth, coveredHeight
	soft := func(x, y, middle, width float64) float64 { return 1 / (1 + math.Exp(-(x+0.4*y-middle)/width)) }
	for _, c := range []struct {
		name       string
		light, sky func(x, y float64) float64
	}{
		{"an edge", func(x, y float64) float64 { return soft(x, y, 250, 90) }, nil},
		{"frost", func(x, y float64) float64 {
			return 1 - 0.7*math.Exp(-(math.Pow(x-650, 2)+math.Pow(y-400, 2))/(2*170*170))
		}, nil},
		{"a lit roof", func(x, y float64) float64 { return soft(x, y, 330, 40) }, func(x, y float64) float64 { return 2 - soft(x, y, 330, 40) }},
		{"moonlight", func(x, y float64) float64 { return 1 }, func(x, y float64) float64 { return 1.2 + 0.4*x/w }},
	} {
		sky := c.sky
		if sky == nil {
			sky = c.light
		}
		for seed := range simulated.Draws(4) {
			rng := rand.New(rand.NewPCG(seed, 31))
			fields := coveredFrom(rng, simulated.NewSky(rng, 150, 20, w, h), 11, c.light)
			for _, f := range fields[11:] {
				f.SkyParts = inSkyParts(w, h, func(x, y float64) float64 { return 500 + 600*sky(x, y) })
			}
			al, _ := registration.Align(fields)
			want, n := 0.0, 0.0
			for k := range 900 {
				want, n = want+c.light(w*(float64(k%30)+0.5)/30, h*(float64(k/30)+0.5)/30), n+1
			}
			want /= n
			for k, got := range Transparencies(fields, al, nil)[11:] {
				if !(math.Abs(got.Ratio.V-want) < 0.03) {
					t.Errorf("%s, seed %d, field %d: %v of the light, want %.3f; covered %v, uneven %v", c.name, seed, k, got.Ratio, want, got.Covered, got.Unevenness)
				}
			}
		}
	}
}

// The share of a field without light is known by the sky where stars alone leave it open.
func TestLineOverOpaque(t *testing.T) {
	line := &skyLine{slope: 0.1, scatter: 0.02}
	for k := range stars.SkyParts * stars.SkyParts {
		line.light = append(line.light, []float64{0.05, 0.05, 0.5, 1, 1, 1, 1, 1}[k%stars.SkyParts])
	}
	l := line.over(stats.Known(0.1, 0.05, 40))
	if want := 1 - (2*0.05+0.5+5)/8; !(math.Abs(l.covered.V-want) <= 1e-9) {
		t.Errorf("covered %v, want %v", l.covered, want)
	}
	if want := stats.Mean(line.light); !(math.Abs(l.mean()-want) <= 1e-9) {
		t.Errorf("light %v, want %v", l.mean(), want)
	}
}
