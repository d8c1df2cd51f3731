package night

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/frames"
)

// Masters that were written read back as masters: the same subs get the same sky, in
// ADU and in electrons, and the same gain, though the headers claim another.
func TestMastersReadBack(t *testing.T) {
	t.Parallel()
	sc := demo.Scenario{Name: "small", Seed: 9, Width: 320, Height: 240, Bias: 8, Darks: []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 4}}, FlatLevels: []float64{0.3, 0.5},
		Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 3}}, Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Start: time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC), Stars: 300, SkyMag: 19.5, Seeing: 3, DitherPx: 6}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(t.Context(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	s := DefaultSettings()
	s.Calib.Masters = true
	raw, err := Run(t.Context(), []string{dir}, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	again := filepath.Join(t.TempDir(), "again")
	masters := filepath.Join(again, "masters")
	if err := os.MkdirAll(masters, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := raw.Calib.WriteMasters(masters, "test"); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(dir, "lights"), filepath.Join(again, "lights")); err != nil {
		t.Fatal(err)
	}
	read, err := Run(t.Context(), []string{again}, DefaultSettings(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(read.Sorted.Masters) != 3 {
		t.Errorf("%d masters", len(read.Sorted.Masters))
	}
	for _, f := range read.Frames {
		if strings.Contains(f.Name, "defects") && f.Product != frames.BadPixelMap {
			t.Errorf("%s is %s %s", f.Name, f.Kind, f.Product)
		}
	}
	for i, a := range raw.Subs {
		b := read.Subs[i]
		// Single darks tell the hot pixels, which are not looked at; of a master's they
		// are. That moves the sky by a part of its error.
		if d := math.Abs(a.SkyADU.V - b.SkyADU.V); !(d < 0.3*a.SkyADU.Err) || !a.Calibrated || !b.Calibrated {
			t.Errorf("%s: sky %v ADU, with masters %v", a.File, a.SkyADU, b.SkyADU)
		}
		if d := math.Abs(a.SkyRate.V/b.SkyRate.V - 1); !(d < 1e-3) {
			t.Errorf("%s: sky %v e-/s, with masters %v", a.File, a.SkyRate, b.SkyRate)
		}
		if !(math.Abs(a.ElectronsPerADU/b.ElectronsPerADU-1) <= 1e-6) || a.ElectronsPerADU == a.Frame.Meta.ElectronsPerADU {
			t.Errorf("gain %v, with masters %v, the header claims %v", a.ElectronsPerADU, b.ElectronsPerADU, a.Frame.Meta.ElectronsPerADU)
		}
	}
}
