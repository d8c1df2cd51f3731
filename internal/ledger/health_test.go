package ledger

import (
	"context"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

func figure(night, metric string, value, uncertainty float64) Figure {
	return Figure{Camera: "C1", Night: night, Metric: metric, Setting: "gain 100, -10 °C", Unit: "e-", Value: value, Uncertainty: uncertainty, Frames: 20}
}

func health(t *testing.T, figures ...Figure) []Series {
	t.Helper()
	l, _ := fresh(t)
	record(t, l, Record{Figures: figures})
	record(t, l, Record{Figures: figures}) // a library of darks that every night's run sees again
	list, err := l.Health(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestHealth(t *testing.T) {
	got := health(t,
		figure("2025-01-01", "read_noise_e", 1.50, 0.01),
		figure("2025-02-01", "read_noise_e", 1.51, 0.01),
		figure("2025-03-01", "read_noise_e", 1.80, 0.01),
		figure("2025-01-01", "offset_adu", 500, 0.02),
		figure("2025-02-01", "offset_adu", 500.5, 0.02), // 18 sigma, but no more than a day's drift
		figure("2025-01-01", "hot_pixels", 1000, math.NaN()),
		figure("2025-02-01", "hot_pixels", 1400, math.NaN()),
		figure("2025-02-01", "dark_current_e_per_s", 0.02, 0.001),
	)
	if len(got) != 4 {
		t.Fatalf("%d series: %+v", len(got), got)
	}
	changes := map[string]*Change{}
	for _, s := range got {
		changes[s.Metric] = s.Change
	}
	if c := changes["read_noise_e"]; c == nil || !(math.Abs(c.Before.Value-1.505) <= 1e-9) || c.Latest.Value != 1.8 || c.Latest.Night != "2025-03-01" || !(math.Abs(c.Limit-0.03*1.505) <= 1e-9) {
		t.Errorf("read noise: %+v", c)
	}
	if changes["hot_pixels"] == nil {
		t.Error("no change of the hot pixels")
	}
	if changes["offset_adu"] != nil || changes["dark_current_e_per_s"] != nil {
		t.Errorf("a change of nothing: %v", changes)
	}
	for _, s := range got {
		if s.Metric == "read_noise_e" && (len(s.Points) != 3 || s.Points[2].Night != "2025-03-01" || s.Points[1].Value != 1.51) {
			t.Errorf("%+v", s.Points)
		}
	}
}

// A camera that does not change is warned of rarely: the false alarms of 3 sigma
// are 0.27 % of a Gaussian, doubled at most by the few points behind the mean.
func TestHealthFalseAlarms(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	alarms := 0
	const n = 4000
	for range n {
		s := Series{Metric: "dark_current_e_per_s"}
		for i := range 6 {
			s.Points = append(s.Points, Point{time.Unix(int64(i)*1e7, 0).Format(time.DateOnly), 0.01 + 0.01*rng.NormFloat64(), 0.01, 5})
		}
		if s.change() != nil {
			alarms++
		}
	}
	if alarms > n*6/1000 || alarms == 0 {
		t.Errorf("%d false alarms of %d", alarms, n)
	}
}

// A night's camera is held against the nights before it, whatever of it or of later
// nights the ledger holds already; what did not change beyond noise is not told.
func TestChanges(t *testing.T) {
	night1 := func(readNoise float64) *night.Result {
		meta := frames.NoMeta()
		meta.Start = time.Date(2025, 3, 12, 1, 0, 0, 0, time.UTC) // of the evening of 11 March
		group := &frames.Group{Kind: frames.Bias, GainSetting: 100, OffsetSetting: 50, SetTemp: -10, BinX: 1, BinY: 1, Frames: []*frames.Frame{{Meta: meta}}}
		s := sensor.NewSet(sensor.KindBias, "not measured")
		s.Camera, s.Group, s.Measured = "Lumen M16", group, true
		s.Bias.Offset.Value = stats.Known(500.4, 0.01, 20)
		s.Bias.ReadNoiseADU.Value = stats.Known(readNoise/0.4, 0.02, 20)
		s.Bias.ReadNoise.Value = stats.Known(readNoise, 0.008, 20)
		return &night.Result{Settings: night.DefaultSettings(), Calib: &calib.Result{Sets: []*sensor.Set{s}}}
	}
	series := func(metric, unit, setting string, points ...Point) Series {
		return Series{Camera: "lumen_m16", Metric: metric, Setting: names.Name(setting), Unit: unit, Points: points}
	}
	const setting = "gain 100, offset 50"
	past := []Series{
		series("offset_adu", "ADU", setting, Point{Night: "2025-02-01", Value: 500, Uncertainty: 0.01}), // by itself it moves as much
		series("read_noise_adu", "ADU", setting, Point{Night: "2025-02-01", Value: 5.1, Uncertainty: 0.05}),
		series("read_noise_e", "e-", "gain 0, offset 50", Point{Night: "2025-02-01", Value: 3.5, Uncertainty: 0.02}),
		series("read_noise_e", "e-", setting, Point{Night: "2025-01-03", Value: 2.04, Uncertainty: 0.03}, Point{Night: "2025-03-01", Value: 2.06, Uncertainty: 0.03},
			Point{Night: "2025-03-11", Value: 9, Uncertainty: 0.02}, Point{Night: "2025-04-01", Value: 9, Uncertainty: 0.02}),
	}
	got := Changes(night1(2.21), past)
	if len(got) != 1 || got[0].Metric != "read_noise_e" || got[0].Latest.PlusMinus() != "2.2100 ± 0.0080" || got[0].Before.PlusMinus() != "2.050 ± 0.021" || got[0].Until != "2025-03-01" {
		t.Errorf("%+v", got)
	}
	if got := Changes(night1(2.10), past); len(got) > 0 { // 3 % is 2.11
		t.Errorf("%+v", got)
	}
	if got := Changes(night1(2.21), nil); len(got) > 0 {
		t.Errorf("nothing is remembered: %+v", got)
	}
}

// Darks of 10 °C and of -10 °C are two series: a sign is no hyphen. Spellings of a
// filter are one.
func TestSeriesKeepSigns(t *testing.T) {
	at := func(night, metric, setting string, value float64) Figure {
		return Figure{Camera: "C1", Night: night, Metric: metric, Setting: setting, Unit: "e-", Value: value, Uncertainty: 0.001, Frames: 5}
	}
	got := health(t, at("2025-01-01", "dark_current_e_per_s", "gain 100, -10 °C, 180 s", 0.01), at("2025-01-01", "dark_current_e_per_s", "gain 100, 10 °C, 180 s", 0.09),
		at("2025-02-01", "dark_current_e_per_s", "gain 100, -10 °C, 180 s", 0.01), at("2025-02-01", "dark_current_e_per_s", "gain 100, 10 °C, 180 s", 0.09),
		at("2025-03-01", "dark_current_e_per_s", "gain 100, 0 °C, 180 s", 0.03), at("2025-04-01", "dark_current_e_per_s", "gain 100, -0 °C, 180 s", 0.03),
		at("2025-01-01", "gain_e_per_adu", "gain 100, H-alpha", 0.4), at("2025-02-01", "gain_e_per_adu", "gain 100, h alpha", 0.4))
	if len(got) != 4 {
		t.Fatalf("%d series: %+v", len(got), got)
	}
	for _, s := range got {
		if len(s.Points) != 2 || s.Points[0].Value != s.Points[1].Value || s.Change != nil {
			t.Errorf("%+v", s)
		}
	}
	past := []sensor.Remembered{{Camera: "C1", Metric: "hot_pixels", Setting: "gain 100, 10 °C, 180 s", Value: stats.Known(900, 1, 5)}}
	if v, _ := sensor.Recall(past, "C1", "gain 100, -10 °C, 180 s", "hot_pixels"); v.OK() {
		t.Errorf("recalled %v of another temperature", v)
	}
}

// Figures that the ledger watches and keeps are such as calibration frames have.
func TestKeptFiguresAreMeasured(t *testing.T) {
	measured := map[string]bool{}
	of := func(kinds ...string) {
		clear(measured)
		for _, kind := range kinds {
			for _, d := range sensor.Definitions(kind) {
				measured[d.Name] = true
			}
		}
	}
	check := func(names []string) {
		for _, name := range names {
			if !measured[name] {
				t.Errorf("no frames tell %s", name)
			}
		}
	}
	of(sensor.KindBias, sensor.KindDark, sensor.KindFlat)
	check(slices.Collect(maps.Keys(watched)))
	of(sensor.KindDark)
	check(ofDarks)
	of(sensor.KindCamera)
	check(remembered)
}
