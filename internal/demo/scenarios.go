package demo

import "time"

// Scenarios are all nights that can be written: the demo night, the small
// nights that the verdicts are tested on, and the large frames for timing.
func Scenarios() []Scenario {
	return append(append([]Scenario{Default}, Nights()...), benchCamera)
}

// heronsNest is the target of nights that need a second one or a sparse field.
var heronsNest = Target{Name: "Nest 4", RA: 75, Dec: 5}

// small is what the small nights share: little calibration, moonless unless
// the date says otherwise.
func small(name, summary string, seed uint64, blocks ...Block) Scenario {
	return Scenario{
		Name: name, Summary: summary, Seed: seed,
		Width: 800, Height: 600,
		Bias: 8, Darks: []DarkSet{{TempC: -10, Exposure: 180, Frames: 4}}, FlatLevels: []float64{0.25, 0.5},
		Targets: []Target{heron, heronsNest},
		Blocks:  blocks,
		Start:   time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
		Stars:   940, SkyMag: 19.5, Seeing: 3.0, DitherPx: 9,
	}
}

// Nights are one night for every kind of trouble.
func Nights() []Scenario { return append(skyNights(), otherNights()...) }

// skyNights have clouds, wind, a tube that cools, Moon and twilight.
func skyNights() []Scenario {
	clear := small("clear", "nothing goes wrong", 11,
		Block{Filter: "L", Exposure: 60, Subs: 16}, Block{Filter: "R", Exposure: 60, Subs: 12}, Block{Filter: "Ha", Exposure: 180, Subs: 12})
	clear.Streaks = []int{7, 30}

	cloudy := small("cloudy", "more than half of the night under passing cloud", 12,
		Block{Filter: "L", Exposure: 60, Subs: 30}, Block{Filter: "Ha", Exposure: 180, Subs: 16})
	cloudy.Clouds = []Cloud{
		{Span: Span{5, 14}, Magnitudes: 2.2, Uneven: 0.3, Glow: 1},
		{Span: Span{18, 27}, Magnitudes: 1.5, Uneven: 0.2, Glow: 0.8, Flat: true},
		{Span: Span{33, 40}, Magnitudes: 2, Uneven: 0.3, Glow: 1},
	}

	windy := small("windy", "gusts elongate every third sub", 13,
		Block{Filter: "L", Exposure: 60, Subs: 40})
	windy.Trails = []Trail{
		{Span{3, 4}, 6, 35}, {Span{9, 9}, 8, 30}, {Span{13, 14}, 3, 32}, {Span{18, 18}, 7, 36},
		{Span{23, 24}, 6.5, 28}, {Span{29, 30}, 9, 33}, {Span{35, 36}, 7, 31},
	}

	drifting := small("drifting-focus", "the tube cools, focus is set again once", 14,
		Block{Filter: "L", Exposure: 60, Subs: 28}, Block{Filter: "R", Exposure: 60, Subs: 14})
	drifting.Drifts = []Drift{{Span{3, 27}, 6.5}}

	moonrise := small("moonrise", "a dark site until the Moon comes up", 15,
		Block{Filter: "L", Exposure: 300, Subs: 35})
	moonrise.Start, moonrise.SkyMag = time.Date(2025, 10, 10, 21, 32, 0, 0, time.UTC), 21.6
	moonrise.Targets[0] = Target{Name: "Grebe Nebula", RA: 355, Dec: 38, Nebula: true}

	twilight := small("twilight", "a short summer night, begun too early and ended too late", 16,
		Block{Filter: "L", Exposure: 360, Subs: 62})
	twilight.Start = time.Date(2025, 6, 21, 23, 22, 0, 0, time.UTC)
	twilight.Targets[0] = Target{Name: "Avocet Nebula", RA: 280, Dec: 38, Nebula: true}
	twilight.Flip = 38

	return []Scenario{clear, cloudy, windy, drifting, moonrise, twilight}
}

func otherNights() []Scenario {
	sparse := small("narrowband-sparse", "two narrow filters, few stars, a cloud and a gust", 17,
		Block{Filter: "Ha", Exposure: 300, Subs: 16, Target: 1}, Block{Filter: "OIII", Exposure: 300, Subs: 14, Target: 1})
	sparse.Stars = 220
	sparse.Clouds = []Cloud{{Span: Span{6, 9}, Magnitudes: 2, Uneven: 0.2, Glow: 1, Flat: true}}
	sparse.Trails = []Trail{{Span{20, 21}, 9, -50}}

	two := small("two-targets", "two targets, cloud over the second", 18,
		Block{Filter: "L", Exposure: 60, Subs: 20}, Block{Filter: "L", Exposure: 60, Subs: 20, Target: 1})
	two.Clouds = []Cloud{{Span: Span{26, 33}, Magnitudes: 2, Uneven: 0.3, Glow: 1}}
	two.Trails = []Trail{{Span{11, 11}, 10, 12}}

	flip := small("flip", "a meridian flip, the mount unsettled after it", 19,
		Block{Filter: "L", Exposure: 60, Subs: 30}, Block{Filter: "Ha", Exposure: 180, Subs: 10})
	flip.Start, flip.Flip = time.Date(2025, 10, 21, 5, 54, 0, 0, time.UTC), 16
	flip.Trails = []Trail{{Span{16, 17}, 8, 84}}

	mixed := small("mixed-exposures", "three exposure times through one filter, one cloud", 20,
		Block{Filter: "L", Exposure: 30, Subs: 14}, Block{Filter: "L", Exposure: 120, Subs: 14}, Block{Filter: "L", Exposure: 300, Subs: 10})
	mixed.Clouds = []Cloud{{Span: Span{10, 17}, Magnitudes: 2, Uneven: 0.2, Glow: 1, Flat: true}}
	mixed.Trails = []Trail{{Span{33, 33}, 8, 60}}

	garbage := small("first-frame", "the mount slews in the first sub, a new filter is soft", 21,
		Block{Filter: "L", Exposure: 60, Subs: 20}, Block{Filter: "Ha", Exposure: 180, Subs: 14})
	garbage.Trails = []Trail{{Span{0, 0}, 25, -20}}
	garbage.Drifts = []Drift{{Span{20, 20}, 8}}

	return []Scenario{sparse, two, flip, mixed, garbage}
}

// benchCamera is frames of 26 megapixels to time the analysis with. They are made
// like all others: nothing is cheaper about their noise.
var benchCamera = Scenario{
	Name: "bench-26mp", Summary: "a dozen subs of 26 megapixels, for timing",
	Seed: 30, Width: 6248, Height: 4176,
	Bias:    20,
	Targets: []Target{heron},
	Blocks:  []Block{{Filter: "L", Exposure: 60, Subs: 12}},
	Start:   time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
	Stars:   5000, SkyMag: 19.5, Seeing: 3.0, DitherPx: 9,
}
