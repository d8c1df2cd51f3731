package ledger

import (
	"context"
	"math"
	"testing"

	"fitsqa/internal/sensor"
)

func TestCameraIsRemembered(t *testing.T) {
	l, _ := fresh(t)
	record(t, l, Record{Figures: []Figure{
		figure("2025-03-01", "read_noise_e", 1.6, 0.01),
		figure("2025-01-01", "read_noise_e", 1.5, 0.01),
		figure("2025-02-01", "dark_activation_ev", 0.6, math.NaN()),
	}})
	list, err := l.Remembered(context.Background())
	if err != nil || len(list) != 2 {
		t.Fatal(list, err)
	}
	v, night := sensor.Recall(list, "C1", "gain 100, -10 °C", "read_noise_e")
	if v.V != 1.6 || v.Err != 0.01 || v.N != 20 || night != "2025-03-01" {
		t.Errorf("latest read noise: %+v of %s", v, night)
	}
	if v, _ := sensor.Recall(list, "C1", "gain 100, -10 °C", "dark_activation_ev"); v.V != 0.6 || !math.IsNaN(v.Err) {
		t.Errorf("dark law: %+v", v)
	}
	if v, night := sensor.Recall(list, "C1", "gain 0, -10 °C", "read_noise_e"); v.OK() || v.Why.Code == "" || night != "" {
		t.Errorf("another gain: %+v of %q", v, night)
	}
}
