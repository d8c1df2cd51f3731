package demo

import (
	"math"
	"slices"
	"time"
)

// HardNights are nights that verdicts go wrong on: each holds one thing that
// passes for a fault, or one fault that passes for nothing, beside good subs.
// Frames are small, so that all of them are made and judged in minutes; seed
// tells their copies apart.
func HardNights(seed uint64) []Scenario {
	all := slices.Concat(doubledNights(), spikedNights(), knottyNights(), warmNights(), trailingNights(),
		dimNights(), litNights(), coveredNights(), focusNights(), colourNights(), oddNights())
	for i := range all {
		all[i].Seed = 1000*seed + uint64(i)
	}
	return all
}

func hard(name string, blocks ...Block) Scenario {
	sc := small(name, name, 0, blocks...)
	sc.Width, sc.Height, sc.Stars = 640, 480, 700
	sc.Bias, sc.FlatLevels, sc.Darks = 6, nil, nil
	return sc
}

// luminance is a run through the broad filter.
func luminance(n int) Block { return Block{Filter: "L", Exposure: 60, Subs: n} }

func with(sc Scenario, change func(*Scenario)) Scenario {
	change(&sc)
	return sc
}

func doubledNights() []Scenario {
	one := func(name string, share, dx, dy float64, at int) Scenario {
		return with(hard(name, luminance(22)), func(sc *Scenario) {
			sc.Doubles = []Double{{Span{at, at}, share, dx, dy}}
		})
	}
	return []Scenario{
		one("doubled-4", 0.04, 9, 4, 7), one("doubled-12", 0.12, -6, 11, 0), one("doubled-25", 0.25, 17, -8, 12),
		one("doubled-45", 0.45, 12, 12, 5),
	}
}

func spikedNights() []Scenario {
	spiked := func(name string, sp Spikes) Scenario {
		return with(hard(name, luminance(18)), func(sc *Scenario) { sc.Spikes = &sp })
	}
	return []Scenario{
		spiked("spikes-cross", Spikes{Stars: 2, Share: 0.04, Angles: []float64{20, 110}, Length: 50}),
		spiked("spikes-three", Spikes{Stars: 3, Share: 0.08, Angles: []float64{0, 60, 120}, Length: 90}),
		with(spiked("spikes-flip", Spikes{Stars: 1, Share: 0.06, Angles: []float64{45, 135}, Length: 70, Ghost: true}), func(sc *Scenario) {
			sc.Flip = 9
			sc.Stars = 300
		}),
		with(spiked("spikes-narrow", Spikes{Stars: 2, Share: 0.02, Angles: []float64{33}, Length: 30}), func(sc *Scenario) {
			sc.Blocks = []Block{{Filter: "Ha", Exposure: 180, Subs: 16}}
			sc.Clouds = []Cloud{{Span: Span{9, 11}, Magnitudes: 2, Uneven: 0.3, Glow: 1, Flat: true}}
		}),
	}
}

func knottyNights() []Scenario {
	return []Scenario{
		with(hard("galaxies", luminance(18)), func(sc *Scenario) { sc.Knots, sc.Stars = 90, 250 }),
		with(hard("nebula-knots", Block{Filter: "Ha", Exposure: 180, Subs: 16}), func(sc *Scenario) {
			sc.Knots = 60
			sc.Trails = []Trail{{Span{8, 9}, 9, 20}}
		}),
	}
}

func warmNights() []Scenario {
	return []Scenario{
		with(hard("uncooled", luminance(30)), func(sc *Scenario) { sc.Sensor = &Cooling{24, 11, math.NaN()} }),
		with(hard("off-set-point", luminance(20)), func(sc *Scenario) { sc.Sensor = &Cooling{-4, -8, -10} }),
		with(hard("just-off", luminance(16)), func(sc *Scenario) { sc.Sensor = &Cooling{-8, -8, -10} }),
		with(hard("uncooled-cloud", luminance(24)), func(sc *Scenario) {
			sc.Sensor = &Cooling{20, 8, math.NaN()}
			sc.Clouds = []Cloud{{Span: Span{14, 17}, Magnitudes: 2.2, Uneven: 0.3, Glow: 1, Flat: true}}
		}),
	}
}

func trailingNights() []Scenario {
	trail := func(name string, n int, turn float64, trails ...Trail) Scenario {
		return with(hard(name, luminance(n)), func(sc *Scenario) { sc.Trails, sc.Turn = trails, turn })
	}
	return []Scenario{
		with(trail("tracking-all-night", 18, 3, Trail{Span{0, 17}, 7, 10}), func(sc *Scenario) { sc.Mount = [2]float64{60, 11} }),
		trail("half-trailed", 24, 3, Trail{Span{10, 23}, 6.5, 40}),
		trail("gusts", 24, 180, Trail{Span{4, 4}, 7, 0}, Trail{Span{9, 10}, 8, 70}, Trail{Span{15, 15}, 7, -30}, Trail{Span{20, 21}, 7, 30}),
		trail("slightly-trailed", 18, 3, Trail{Span{0, 17}, 2, 60}),
		with(trail("few-coherent", 16, 3, Trail{Span{5, 6}, 7, 20}), func(sc *Scenario) { sc.Stars = 60 }),
	}
}

func dimNights() []Scenario {
	return []Scenario{
		with(hard("even-haze", luminance(18)), func(sc *Scenario) {
			sc.Clouds = []Cloud{{Span: Span{0, 17}, Magnitudes: 0.5, Flat: true}}
		}),
		with(hard("haze-half", luminance(24)), func(sc *Scenario) {
			sc.Clouds = []Cloud{{Span: Span{10, 23}, Magnitudes: 0.28, Flat: true}}
		}),
		with(hard("thin-then-thick", luminance(26)), func(sc *Scenario) {
			sc.Clouds = []Cloud{{Span: Span{5, 9}, Magnitudes: 1.8, Uneven: 0.3, Glow: 1}, {Span: Span{14, 19}, Magnitudes: 2.6, Uneven: 0.25, Glow: 2, Flat: true}}
		}),
		with(hard("dew", luminance(26)), func(sc *Scenario) { sc.Dews = []Dew{{Span: Span{8, 25}, Magnitudes: 1.6}} }),
		with(hard("dew-narrow", Block{Filter: "Ha", Exposure: 180, Subs: 20}), func(sc *Scenario) { sc.Dews = []Dew{{Span: Span{6, 19}, Magnitudes: 1.3}} }),
		with(hard("dew-steps", luminance(24)), func(sc *Scenario) { sc.Dews = []Dew{{Span: Span{8, 23}, Magnitudes: 1.5, Steps: 3}} }),
		with(hard("dew-fine", luminance(24)), func(sc *Scenario) { sc.Dews = []Dew{{Span: Span{8, 23}, Magnitudes: 1.5, Fine: true}} }),
		with(hard("cirrus", luminance(28)), func(sc *Scenario) {
			sc.Clouds = []Cloud{{Span: Span{7, 24}, Magnitudes: 1.4, Uneven: 0.06, Halo: 0.6}}
		}),
	}
}

func litNights() []Scenario {
	return []Scenario{
		with(hard("moon-most", Block{Filter: "L", Exposure: 300, Subs: 26}), func(sc *Scenario) {
			sc.Start, sc.SkyMag = time.Date(2025, 10, 10, 21, 32, 0, 0, time.UTC), 21.6
			sc.Targets[0] = Target{Name: "Grebe Nebula", RA: 355, Dec: 38, Nebula: true}
		}),
		with(hard("dawn", luminance(34)), func(sc *Scenario) { sc.Start = time.Date(2025, 10, 21, 7, 20, 0, 0, time.UTC) }),
		with(hard("dawn-no-site", luminance(34)), func(sc *Scenario) {
			sc.Start, sc.NoSite = time.Date(2025, 10, 21, 7, 20, 0, 0, time.UTC), true
		}),
		with(hard("lit-cloud", luminance(22)), func(sc *Scenario) {
			sc.Clouds = []Cloud{{Span: Span{9, 12}, Magnitudes: 0.8, Uneven: 0.1, Glow: 11, Flat: true}}
		}),
	}
}

func coveredNights() []Scenario {
	covered := func(name string, n int, covers ...Cover) Scenario {
		return with(hard(name, luminance(n)), func(sc *Scenario) { sc.Covers = covers })
	}
	return []Scenario{
		covered("tree-63", 22, Cover{Span{14, 21}, 0.63, true, 10, false}),
		covered("roof-35", 20, Cover{Span{15, 19}, 0.35, false, 90, false}),
		covered("roof-11", 20, Cover{Span{15, 19}, 0.11, false, -90, false}),
		covered("frost-45", 22, Cover{Span{12, 21}, 0.45, false, 0, true}),
		covered("tree-50-cloud", 24, Cover{Span{18, 23}, 0.5, false, 140, false}),
	}
}

func focusNights() []Scenario {
	return []Scenario{
		with(hard("focus-over-filters", luminance(10), Block{Filter: "Ha", Exposure: 180, Subs: 8}, luminance(10)), func(sc *Scenario) {
			sc.Drifts = []Drift{{Span{6, 27}, 6}}
		}),
		with(hard("focus-refocused", luminance(24)), func(sc *Scenario) { sc.Drifts = []Drift{{Span{3, 14}, 6}} }),
		with(hard("defocused-one", luminance(16)), func(sc *Scenario) { sc.Drifts = []Drift{{Span{6, 6}, 7}} }),
		with(hard("poor-seeing", luminance(16)), func(sc *Scenario) { sc.Seeing = 4.5 }),
	}
}

func colourNights() []Scenario {
	colour := func(name, pattern string, w, h int, hot float64) Scenario {
		return with(hard(name, luminance(16)), func(sc *Scenario) {
			sc.Bayer, sc.Width, sc.Height, sc.Bias, sc.Hot = pattern, w, h, 0, hot
			sc.Clouds = []Cloud{{Span: Span{6, 8}, Magnitudes: 2.2, Uneven: 0.3, Glow: 1, Flat: true}}
			sc.Trails = []Trail{{Span{11, 12}, 9, 25}}
		})
	}
	return []Scenario{
		colour("colour-rggb", "RGGB", 600, 400, 1), colour("colour-bggr", "BGGR", 656, 464, 1),
		with(colour("colour-soft", "RGGB", 640, 480, 0.3), func(sc *Scenario) {
			sc.Clouds, sc.Trails = nil, nil
			sc.Drifts = []Drift{{Span{5, 15}, 7}}
		}),
		with(colour("colour-warm", "RGGB", 608, 456, 1), func(sc *Scenario) { sc.Sensor = &Cooling{18, 9, math.NaN()} }),
	}
}

func oddNights() []Scenario {
	return []Scenario{
		with(hard("undersampled", luminance(18)), func(sc *Scenario) {
			sc.Seeing, sc.Stars = 1.0, 400
			sc.Clouds = []Cloud{{Span: Span{6, 8}, Magnitudes: 2, Uneven: 0.3, Glow: 1, Flat: true}}
		}),
		with(hard("short-groups", luminance(4), Block{Filter: "R", Exposure: 60, Subs: 3}, Block{Filter: "Ha", Exposure: 180, Subs: 4}), func(sc *Scenario) {
			sc.Trails = []Trail{{Span{5, 5}, 10, 30}}
		}),
		with(hard("mixed-short", Block{Filter: "L", Exposure: 30, Subs: 12}, Block{Filter: "L", Exposure: 120, Subs: 2}, Block{Filter: "L", Exposure: 60, Subs: 8}), func(sc *Scenario) {
			sc.Drifts = []Drift{{Span{12, 12}, 7}}
		}),
		hard("good", luminance(24)),
		with(hard("good-no-header", luminance(18)), func(sc *Scenario) { sc.NoSite, sc.NoTime = true, true }),
		with(hard("two-filters-good", Block{Filter: "R", Exposure: 60, Subs: 12}, Block{Filter: "OIII", Exposure: 300, Subs: 10}), func(sc *Scenario) { sc.Flip = 11 }),
		with(hard("drifting-mount", luminance(20)), func(sc *Scenario) { sc.Mount = [2]float64{120, -45} }),
		with(hard("satellites", luminance(16)), func(sc *Scenario) { sc.Streaks = []int{1, 2, 5, 8, 9, 14} }),
	}
}
