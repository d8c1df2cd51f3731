package calib

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// cameraB is a real CCD camera's bench frames, where they are at hand.
func cameraB(t *testing.T) *Result {
	t.Helper()
	const dir = "../../../shared/data/camera-b"
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the real camera's frames are not here: ", err)
	}
	fs, err := frames.Scan(context.Background(), []string{dir}, frames.DefaultScanOptions)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Analyse(context.Background(), frames.Sort(fs), DefaultOptions)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// dump shows all figures of a result with -v.
func dump(t *testing.T, r *Result) {
	t.Helper()
	for _, s := range r.Sets {
		t.Logf("--- %s", s.Label)
		for _, m := range s.Metrics() {
			if m.Value.OK() {
				t.Logf("%-30s %.5g ± %.2g %s (%d) %v", m.Name, m.Value.V, m.Value.Err, m.Unit, m.Value.N, m.Note)
			} else {
				t.Logf("%-30s - %v", m.Name, m.Value.Why)
			}
		}
		for _, w := range s.Warnings {
			t.Log("! ", w)
		}
	}
	for _, c := range r.Coverage {
		t.Logf("%s: bias: %s; dark: %s; flat: %s", c.Lights.Label(), cover(c.Bias), cover(c.Dark), cover(c.Flat))
	}
}

// A real camera, measured independently with numpy and astropy: read noise
// 6.97 to 7.00 ADU at 0 °C, dark current 0.69 to 0.70 ADU/s at 0 °C from the
// slope in time and 3.17 ADU/s at +10 °C, gain 1.91 to 1.97 e-/ADU by
// estimator where the header claims 2.06, first bias 4 ADU high.
func TestCameraB(t *testing.T) {
	if testing.Short() {
		t.Skip("a real camera's bench; TestAccuracy holds the same figures to truth")
	}
	t.Parallel()
	r := cameraB(t)
	dump(t, r)
	for _, s := range r.kind("bias") {
		if s.Group.SetTemp != 0 {
			continue
		}
		within(t, s, "read_noise_adu", 6.985, 0.015+0.01*6.985) // the range known, and 1 %
		within(t, s, "outlier_frames", 1, 0)
		named := false
		for _, m := range s.Metrics() {
			named = named || m.Name == "outlier_frames" && strings.Contains(fmt.Sprint(m.Note), "outlier_frame(file=bias_0c_1.fit.gz, off_adu=3.9")
		}
		if !named {
			t.Error("the first bias is not named")
		}
	}
	at0 := 0
	for _, s := range r.kind("dark") {
		switch s.Group.SetTemp {
		case 0:
			at0++
			within(t, s, "dark_current_adu_per_s", 0.695, 0.005+0.02*0.695)
		case 10:
			within(t, s, "dark_current_adu_per_s", 3.17, 0.02*3.17)
		}
	}
	if at0 != 8 {
		t.Errorf("%d sets of darks at 0 °C, want 8 exposures", at0)
	}
	flats := r.kind("flat")
	if len(flats) != 1 || len(flats[0].Group.Frames) != 2 {
		t.Fatalf("%d flat sets: the flats call themselves light frames", len(flats))
	}
	within(t, flats[0], "gain_e_per_adu", 1.94, 0.03)
	camera := r.kind("camera")
	if len(camera) != 1 {
		t.Fatalf("%d cameras", len(camera))
	}
	within(t, camera[0], "gain_e_per_adu", 1.94, 0.03)
	// ln(3.17/0.695) over 9.8 °C of the sensor: 4.48 °C to double, known as well
	// as the rates to 2 % and the temperatures to 0.2 °C.
	within(t, camera[0], "dark_doubling_c", 4.48, 0.15)
	if w := camera[0].Summary.Temperature.Basis; w.Code != sensor.LawExact {
		t.Errorf("two temperatures: %v", w)
	}
	if w := fmt.Sprint(camera[0].Warnings); !strings.Contains(w, "header_gain_off(header=2.06") {
		t.Errorf("header and measured gain are not set side by side: %s", w)
	}
}
