package calib

import (
	"context"
	"os"
	"testing"

	"fitsqa/internal/frames"
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
	r, err := Analyse(context.Background(), fs, DefaultOptions)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func dump(t *testing.T, r *Result) {
	t.Helper()
	for _, s := range r.Sets {
		t.Logf("--- %s", s.Label)
		for _, m := range s.Metrics {
			if m.Value.OK() {
				t.Logf("%-30s %.5g ± %.2g %s (%d) %s", m.Name, m.Value.V, m.Value.Err, m.Unit, m.Value.N, m.Note)
			} else {
				t.Logf("%-30s - %s", m.Name, m.Value.Why)
			}
		}
		for _, w := range s.Warnings {
			t.Log("! ", w)
		}
	}
	for _, c := range r.Coverage {
		t.Logf("%s: %+v", c.Lights.Label(), c)
	}
}

func TestCameraB(t *testing.T) {
	r := cameraB(t)
	dump(t, r)
}
