package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

// RandomNight draws a night from all that nights differ in: optics, sensor, site,
// stars, the order of the filters, and troubles, any of them with any other. Its name
// tells the troubles. A seed always gives the same night; each part of it has a source
// of its own, so that a change to one leaves the others as they were.
func RandomNight(seed uint64) Scenario {
	sc := Scenario{Name: "random", Summary: "drawn", Seed: seed, Width: 640, Height: 480, Start: time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC)}
	for _, part := range []struct {
		name string
		draw func(dice, *Scenario)
	}{{"blocks", dice.blocks}, {"site", dice.site}, {"camera", dice.camera}, {"mount", dice.mount}, {"weather", dice.weather}, {"optics", dice.optics}} {
		part.draw(dice{source(seed, "random "+part.name)}, &sc)
	}
	return sc
}

// dice draws one part of a night.
type dice struct{ *rand.Rand }

func (d dice) chance(p float64) bool        { return d.Float64() < p }
func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }

// even is between a and b, as likely in any factor as in any other as large.
func (d dice) even(a, b float64) float64 { return math.Exp(d.between(math.Log(a), math.Log(b))) }

func (d dice) span(sc *Scenario, longest int) Span {
	n := sc.subs()
	first := d.IntN(n)
	return Span{first, min(n-1, first+d.IntN(longest))}
}

// rest is from some sub on until the night ends.
func (d dice) rest(sc *Scenario) Span { return Span{d.IntN(sc.subs()), sc.subs() - 1} }

func (d dice) blocks(sc *Scenario) {
	n := 14 + d.IntN(12)
	switch d.IntN(20) {
	case 0, 1, 2: // colour, a few subs each
		for _, filter := range []string{"L", "R", "G", "B"} {
			sc.Blocks = append(sc.Blocks, Block{Filter: filter, Exposure: 120, Subs: 3 + d.IntN(3)})
		}
	case 3, 4: // hardly a group
		sc.Blocks = []Block{{Filter: "L", Exposure: 60, Subs: 3 + d.IntN(6)}}
	case 5: // two filters all night, a few subs by turns
		turn := 1 + d.IntN(4)
		for range 60 / (2 * turn) {
			sc.Blocks = append(sc.Blocks, Block{Filter: "Ha", Exposure: 180, Subs: turn}, Block{Filter: "OIII", Exposure: 180, Subs: turn})
		}
	case 6, 7, 8, 9, 10, 11:
		sc.Blocks = []Block{{Filter: "L", Exposure: 60, Subs: n / 2}, {Filter: "Ha", Exposure: 300, Subs: n - n/2}}
	default:
		sc.Blocks = []Block{{Filter: "L", Exposure: []float64{20, 60, 180}[d.IntN(3)], Subs: n}}
	}
}

func (d dice) site(sc *Scenario) {
	sc.Targets = []Target{{Name: "Heron Nebula", RA: 85, Dec: d.between(0, 60), Nebula: d.chance(0.6)}}
	sc.Stars = int(d.even(100, 4000))
	sc.SkyMag, sc.Seeing = d.between(18, 21.5), d.between(1.6, 4.5)
	sc.NoSite, sc.NoTime = d.chance(0.15), d.chance(0.1)
	if d.chance(0.2) {
		sc.Knots = 20 + d.IntN(80)
	}
	for range 4 * d.IntN(2) {
		sc.Streaks = append(sc.Streaks, d.IntN(sc.subs()))
	}
}

func (d dice) camera(sc *Scenario) {
	sc.Lens = []*Lens{nil, nil, {FocalMM: 400, ApertureMM: 80}, {FocalMM: 2000, ApertureMM: 250}}[d.IntN(4)]
	if d.chance(0.25) {
		sc.Bayer = []string{"RGGB", "GBRG", "BGGR"}[d.IntN(3)]
	}
	if d.chance(0.25) {
		sc.Sensor = &Cooling{FromC: d.between(10, 22), ToC: d.between(2, 15), SetC: math.NaN()}
	}
	sc.Bias = 6 * d.IntN(2)
	if d.chance(0.4) {
		sc.Darks = []DarkSet{{TempC: -10, Exposure: sc.Blocks[0].Exposure, Frames: 4}}
	}
	if d.chance(0.3) {
		sc.FlatLevels = []float64{0.25, 0.5}
	}
}

func (d dice) mount(sc *Scenario) {
	sc.DitherPx = []float64{0, 3, 9, 40}[d.IntN(4)]
	if d.chance(0.2) {
		sc.Mount = [2]float64{d.between(-150, 150), d.between(-150, 150)}
	}
	if d.chance(0.25) {
		sc.Flip, sc.FlipTurn = 1+d.IntN(sc.subs()-1), d.between(-3, 3)
	}
	if d.chance(0.25) {
		sc.add("trail")
		sc.Trails = []Trail{{d.span(sc, 5), d.between(3, 14), d.between(0, 180)}}
	}
	if d.chance(0.2) {
		sc.add("double")
		sc.Doubles = []Double{{d.span(sc, 1), d.between(0.05, 0.4), d.between(-20, 20), d.between(5, 20)}}
	}
}

func (d dice) weather(sc *Scenario) {
	cloud := Cloud{Magnitudes: d.between(0.3, 3), Uneven: d.between(0, 0.6), Glow: d.between(0, 2), Flat: d.chance(0.5)}
	if d.chance(0.35) {
		sc.add("cloud")
		cloud.Span = d.span(sc, 5)
		sc.Clouds = append(sc.Clouds, cloud)
	}
	if d.chance(0.08) {
		sc.add("cirrus")
		sc.Clouds = append(sc.Clouds, Cloud{Span: d.rest(sc), Magnitudes: d.between(0.5, 2), Uneven: d.between(0, 0.2), Glow: d.between(0, 0.5), Halo: d.between(0, 0.7), Thickens: true})
	}
	if d.chance(0.15) {
		sc.add("cover")
		sc.Covers = []Cover{{d.span(sc, 5), d.between(0.3, 0.8), false, d.between(0, 360), d.chance(0.3)}}
	}
}

func (d dice) optics(sc *Scenario) {
	if d.chance(0.2) {
		sc.add("drift")
		sc.Drifts = []Drift{{d.rest(sc), d.between(3, 9)}}
	}
	if d.chance(0.15) {
		sc.add("dew")
		sc.Dews = []Dew{{Span: d.rest(sc), Magnitudes: d.between(0.7, 2)}}
	}
	if d.chance(0.25) {
		sc.add("spikes")
		sc.Spikes = &Spikes{Stars: 1 + d.IntN(3), Share: d.between(0.01, 0.08), Angles: []float64{d.between(0, 90), d.between(90, 180)}, Length: d.between(20, 90), Ghost: d.chance(0.3)}
	}
}

func (sc *Scenario) add(trouble string) { sc.Name = fmt.Sprintf("%s-%s", sc.Name, trouble) }
