package night_test

import (
	"context"
	"encoding/binary"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/demo"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
)

// Subs that were aligned before are measured as they are: no dark and no flat is
// applied to them, none is asked for, and what their zero is is left open.
func TestAlignedSubsAreNotCalibratedAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("a night measured twice; package frames tells which subs are aligned")
	}
	t.Parallel()
	sc := demo.Scenario{
		Name: "aligned", Seed: 31, Width: 400, Height: 300, Bias: 4, Darks: []demo.DarkSet{{Exposure: 60, TempC: -10, Frames: 4}}, FlatLevels: []float64{0.4},
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: 6}},
		Start:   time.Date(2025, 10, 21, 3, 0, 0, 0, time.UTC),
		Stars:   400, SkyMag: 19.5, Seeing: 3, DitherPx: 4,
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	raw := check(t, dir)
	for _, s := range raw.Subs {
		if s.Frame.Processed() || !s.Calibrated || !s.SkyRate.OK() {
			t.Fatalf("%s: processed %v, calibrated %v, sky %v", s.File, s.Frame.Processed(), s.Calibrated, s.SkyRate)
		}
	}
	for i, path := range lightsIn(t, dir) {
		shiftFile(t, path, 400, 0.5, 0.1*float64(i))
	}
	r := check(t, dir)
	for i, s := range r.Subs {
		if s.Calibrated || s.SkyRate.OK() || s.SkyRate.Why.Code != calib.CalibratedBefore || !s.Field.FWHM.OK() {
			t.Errorf("%s: calibrated %v, sky %+v", s.File, s.Calibrated, s.SkyRate)
		}
		// The bias of some 1000 ADU is still in.
		if was := raw.Subs[i].SkyADU.V; s.SkyADU.V < was+500 {
			t.Errorf("%s: level %.0f, raw and calibrated %.0f", s.File, s.SkyADU.V, was)
		}
	}
	if len(r.Plan.Shopping) > 0 {
		t.Errorf("asks for %+v", r.Plan.Shopping)
	}
	if !slices.ContainsFunc(r.OfFiles, func(o night.OddFiles) bool { return o.Finding.Code == frames.SharedNoise && o.Files == 6 }) {
		t.Errorf("%v", r.OfFiles)
	}
}

// shiftFile moves the picture of a file of 16 bits by parts of a pixel, as alignment
// does by linear interpolation.
func shiftFile(t *testing.T, path string, width int, dx, dy float64) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	end := strings.Index(string(b), "END"+strings.Repeat(" ", 77))
	data := b[(end/2880+1)*2880:]
	at := func(i int) float64 { return float64(int16(binary.BigEndian.Uint16(data[2*i:]))) }
	for i := 0; i+width+1 < len(data)/2 && i/width < 299; i++ { // what is needed lies ahead
		v := (1-dx)*(1-dy)*at(i) + dx*(1-dy)*at(i+1) + (1-dx)*dy*at(i+width) + dx*dy*at(i+width+1)
		binary.BigEndian.PutUint16(data[2*i:], uint16(int16(v)))
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
