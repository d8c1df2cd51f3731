package demo

import (
	"math"
	"slices"

	"fitsqa/internal/catalogue"
)

type star struct {
	x, y   float64
	mag    float64
	colour float64 // mag, 0 for the average star
	size   float64 // of a galaxy or a knot, times a star's; 0 for a star
	e2     [2]float64
	spiked bool
}

// field is the sky around a target, larger than the sensor by a margin for
// dithers and the turn after a flip.
type field struct {
	stars  []star
	clumps []clump
}

// clump is one Gaussian part of the nebula.
type clump struct {
	x, y, sigma float64 // px
	height      float64 // relative
}

// Star counts rise as 10^(countSlope × magnitude), typical of fields in the
// galactic plane; countMag is the magnitude that Scenario.Stars counts to and
// faintest the end of the list, below the detection limit of one sub.
const (
	countSlope  = 0.3
	countMag    = 20.0
	faintest    = 20.7
	leastMargin = 60 // px
)

// fieldSize is the sides of a field, px: there are stars wherever the sensor gets to.
func (sc Scenario) fieldSize() (w, h float64) {
	reach := sc.DitherPx
	if starts := startTimes(sc); len(starts) > 0 {
		reach += math.Hypot(sc.Mount[0], sc.Mount[1]) * starts[len(starts)-1].Sub(starts[0]).Hours()
	}
	if sc.Flip > 0 {
		reach += math.Hypot(flipShiftX, flipShiftY) + float64(sc.Width)/2*math.Abs(math.Sin((flipTurn+sc.FlipTurn)*math.Pi/180))
	}
	margin := math.Max(leastMargin, reach)
	return float64(sc.Width) + 2*margin, float64(sc.Height) + 2*margin
}

func newField(sc Scenario, cam Camera, t Target) *field {
	rng := source(sc.Seed, "field "+t.Name)
	w, h := sc.fieldSize()
	area := w * h / float64(sc.Width*sc.Height)
	n := int(float64(sc.Stars) * area * math.Pow(10, countSlope*(faintest-countMag)))
	f := &field{}
	for range n {
		f.stars = append(f.stars, star{
			x: w * (rng.Float64() - 0.5), y: h * (rng.Float64() - 0.5),
			// N(<m) ∝ 10^(slope m), inverted.
			mag:    faintest + math.Log10(1-rng.Float64())/countSlope,
			colour: 0.4 * rng.NormFloat64(),
		})
	}
	if t.Real {
		f.addSky(sc, cam, t)
	}
	f.extras(sc)
	if !t.Nebula {
		return f
	}
	for range 70 {
		r := 0.28 * float64(sc.Height) * math.Abs(rng.NormFloat64())
		phi := 2 * math.Pi * rng.Float64()
		f.clumps = append(f.clumps, clump{
			x: r * math.Cos(phi), y: 0.7 * r * math.Sin(phi),
			sigma:  float64(sc.Height) * (0.02 + 0.1*rng.Float64()),
			height: 0.1 + 0.25*rng.Float64(),
		})
	}
	return f
}

// addSky puts the catalogue's stars in place of the made ones that are as bright: in the
// plane that touches the sky at the target, north up and east left.
func (f *field) addSky(sc Scenario, cam Camera, t Target) {
	rng := source(sc.Seed, "colours "+t.Name)
	w, h := sc.fieldSize()
	var sky []star
	sinDec, cosDec := math.Sincos(t.Dec * math.Pi / 180)
	for _, c := range catalogue.Cone(t.RA, t.Dec, 0.6*math.Hypot(w, h)*cam.scale()/3600, 30) {
		sin, cos := math.Sincos(c.Dec * math.Pi / 180)
		sinRA, cosRA := math.Sincos((c.RA - t.RA) * math.Pi / 180)
		along := sinDec*sin + cosDec*cos*cosRA
		px := 180 / math.Pi * 3600 / cam.scale()
		s := star{x: -px * cos * sinRA / along, y: px * (cosDec*sin - sinDec*cos*cosRA) / along, mag: c.Mag, colour: 0.4 * rng.NormFloat64()}
		if math.Abs(s.x) < w/2 && math.Abs(s.y) < h/2 {
			sky = append(sky, s)
		}
	}
	if len(sky) > 0 {
		end := sky[len(sky)-1].mag // the faintest: a cone's stars are in order
		f.stars = slices.DeleteFunc(f.stars, func(s star) bool { return s.mag < end })
	}
	f.stars = append(f.stars, sky...)
}

// extras adds the bright stars that have spikes, and what is no star.
func (f *field) extras(sc Scenario) {
	rng := source(sc.Seed, "extras")
	place := func() (float64, float64) {
		return 0.8 * float64(sc.Width) * (rng.Float64() - 0.5), 0.8 * float64(sc.Height) * (rng.Float64() - 0.5)
	}
	if sc.Spikes != nil {
		for k := range sc.Spikes.Stars {
			x, y := place()
			f.stars = append(f.stars, star{x: x, y: y, mag: 8 + 0.5*float64(k), spiked: true})
		}
	}
	for range sc.Knots {
		x, y := place()
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		e := 0.5 * rng.Float64()
		f.stars = append(f.stars, star{x: x, y: y, mag: 14 + 3*rng.Float64(), size: 1.6 + 1.4*rng.Float64(), e2: [2]float64{e * cos, e * sin}})
	}
}

func (f *field) nebula(x, y float64) float64 {
	var sum float64
	for _, c := range f.clumps {
		u := ((x-c.x)*(x-c.x) + (y-c.y)*(y-c.y)) / (c.sigma * c.sigma)
		if u < 30 {
			sum += c.height * math.Exp(-u/2)
		}
	}
	return sum
}
