package ledger

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
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
	warned := map[string]string{}
	for _, s := range got {
		warned[s.Metric] = s.Warning
	}
	if w := warned["read_noise_e"]; w != "C1: read noise (gain 100, -10 °C) went from 1.505 to 1.8 e- on 2025-03-01; beyond the 0.045 that noise and daily change explain" {
		t.Errorf("read noise: %q", w)
	}
	if w := warned["hot_pixels"]; !strings.Contains(w, "number of hot pixels") {
		t.Errorf("hot pixels: %q", w)
	}
	if warned["offset_adu"] != "" || warned["dark_current_e_per_s"] != "" {
		t.Errorf("warned of nothing: %q", warned)
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
		s.watch()
		if s.Warning != "" {
			alarms++
		}
	}
	if alarms > n*6/1000 || alarms == 0 {
		t.Errorf("%d false alarms of %d", alarms, n)
	}
}
