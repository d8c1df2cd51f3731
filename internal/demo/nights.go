package demo

import "time"

var heron = Target{Name: "Heron Nebula", RA: 85, Dec: 24, Nebula: true}

// Default is the demo night: broken cloud, a gust, a cooling telescope, a
// meridian flip, a satellite, and dawn, through a broad and a narrow filter.
var Default = Scenario{
	Name:    "default",
	Summary: "cloud, wind, focus drift, a flip, a satellite and dawn",
	Seed:    1,
	Width:   1280, Height: 960,
	Bias: 20,
	Darks: []DarkSet{
		{TempC: -10, Exposure: 180, Frames: 5},
		{TempC: -10, Exposure: 60, Frames: 5},
		{TempC: 0, Exposure: 180, Frames: 5},
		{TempC: 10, Exposure: 180, Frames: 5},
	},
	FlatLevels: []float64{0.15, 0.3, 0.45, 0.6},
	Targets:    []Target{heron},
	Blocks: []Block{
		{Filter: "Ha", Exposure: 180, Subs: 9},
		{Filter: "L", Exposure: 60, Subs: 10},
		{Filter: "Ha", Exposure: 180, Subs: 9},
		{Filter: "L", Exposure: 60, Subs: 10},
		{Filter: "Ha", Exposure: 180, Subs: 8},
		{Filter: "L", Exposure: 60, Subs: 10},
	},
	Start:    time.Date(2025, 10, 21, 5, 50, 10, 0, time.UTC),
	Stars:    2400,
	SkyMag:   19.5,
	Seeing:   3.0,
	DitherPx: 9,
	Flip:     28,
	Drifts:   []Drift{{Span{8, 27}, 5.2}},
	Clouds:   []Cloud{{Span: Span{30, 39}, Magnitudes: 1.9, Uneven: 0.35, Glow: 1.1}},
	Trails:   []Trail{{Span{4, 5}, 8, 28}, {Span{41, 42}, 8, 31}},
	Streaks:  []int{2, 13},
}
