package crosscheck

import (
	"path/filepath"
	"strings"
	"testing"
)

// cameraReference is camera-b.json.
type cameraReference struct {
	Level           []float64 `json:"bias_level_adu"`
	ReadNoise       float64   `json:"read_noise_adu"`
	ReadNoiseCold   float64   `json:"read_noise_m5c_adu"`
	DarkSlope       float64   `json:"dark_slope_adu_per_s"`
	DarkAt0         float64   `json:"dark_300s_0c_adu_per_s"`
	DarkAt10        float64   `json:"dark_300s_10c_adu_per_s"`
	Doubling        float64   `json:"doubling_c"`
	Activation      float64   `json:"activation_ev"`
	Gain            float64   `json:"gain_by_tiles_e_per_adu"`
	GainWholeFrames float64   `json:"gain_whole_frame_e_per_adu"`
}

// TestCameraOutput holds calibration.csv of the whole program to numpy's and
// astropy's figures of a real CCD.
func TestCameraOutput(t *testing.T) {
	if testing.Short() {
		t.Skip("a run over real frames; TestCameraB of package calib measures the same")
	}
	rows := readTable(t, filepath.Join(check(t, realFrames(t, "camera-b")), "calibration.csv"))
	var want cameraReference
	readReference(t, "camera-b.json", &want)
	one := func(kind, temp, exposure, metric string) float64 {
		t.Helper()
		for _, row := range rows {
			if row["kind"] == kind && row["metric"] == metric && (temp == "" || row["set_temp_c"] == temp) &&
				(exposure == "" || row["exposure_s"] == exposure) {
				return number(t, row, "value")
			}
		}
		t.Fatalf("no row for %s of %s at %s degrees, %s s", metric, kind, temp, exposure)
		return 0
	}

	// Five of the six frames have their median at 1000; offset_adu is a level over all of them.
	within(t, "offset at 0 degrees, ADU", one("bias", "0", "", "offset_adu"), 1000, 1)
	// Both are the sd of pair differences clipped at 5 sigma; only the removal of
	// the quantisation step (0.1 %) and the pooling differ: 1 %.
	within(t, "read noise at 0 degrees, ADU", one("bias", "0", "", "read_noise_adu"), want.ReadNoise, 0.01*want.ReadNoise)
	within(t, "read noise at -5 degrees, ADU", one("bias", "-5", "", "read_noise_adu"), want.ReadNoiseCold, 0.01*want.ReadNoiseCold)
	// A single 300 s dark over its bias, medians of whole numbers: half an ADU in 209.
	within(t, "dark current at 0 degrees, ADU/s", one("dark", "0", "300", "dark_current_adu_per_s"), want.DarkSlope, 0.02*want.DarkSlope)
	within(t, "dark current at +10 degrees, ADU/s", one("dark", "10", "300", "dark_current_adu_per_s"), want.DarkAt10, 0.02*want.DarkAt10)
	// The flat pair alone (the header claims 2.06): estimators spread from 1.92 to 1.96.
	within(t, "gain, e-/ADU", one("flat", "", "", "gain_e_per_adu"), 1.94, 0.03)
	// Two temperatures ten degrees apart; set and measured temperatures differ by 0.2.
	within(t, "doubling temperature, degrees", one("camera", "", "", "dark_doubling_c"), want.Doubling, 0.15)
	within(t, "activation energy, eV", one("camera", "", "", "dark_activation_ev"), want.Activation, 0.035)

	high := false
	for _, row := range rows {
		high = high || row["metric"] == "outlier_frames" && strings.Contains(row["note"], "bias_0c_1")
	}
	if !high {
		t.Error("the first bias, 4 ADU high, is not named beside outlier_frames")
	}
}
