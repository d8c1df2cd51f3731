package night_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/catalogue"
	"fitsqa/internal/demo"
)

// starry is a night of real stars before a short telescope, hazy or not.
func starry(seed uint64, at time.Time, haze float64, subs int) demo.Scenario {
	sc := demo.Scenario{
		Name: "starry", Seed: seed, Width: 1100, Height: 800,
		Bias: 6, Darks: []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 3}}, FlatLevels: []float64{0.25, 0.5},
		Lens:    &demo.Lens{FocalMM: 250, ApertureMM: 40},
		Targets: []demo.Target{{Name: "Ibis Cloud", RA: 310, Dec: 40, Real: true}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: subs}},
		Start:   at, Stars: 3000, SkyMag: 19.5, Seeing: 8, DitherPx: 9,
	}
	if haze > 0 {
		sc.Clouds = []demo.Cloud{{Span: demo.Span{First: 0, Last: subs - 1}, Magnitudes: haze, Flat: true}}
	}
	return sc
}

var evening = time.Date(2025, 8, 22, 23, 30, 0, 0, time.UTC) // dark, the field high, no Moon

// A made night of known zero point gives it within 0.03 mag, and its sky within 0.05. The
// made stars' catalogue magnitudes are exact, so that only their number and the aperture
// limit the zero point; the sky adds the offset's error.
func TestMadeNightIsOnTheScaleOfMagnitudes(t *testing.T) {
	t.Parallel()
	sc := starry(41, evening, 0, 6)
	// Cloud takes starlight, and none of the sky's.
	sc.Clouds = []demo.Cloud{{Span: demo.Span{First: 4, Last: 5}, Magnitudes: 1.2, Flat: true}}
	a := analyse(t, sc)
	if len(a.result.Places) != 1 || a.result.Places[0].Why.Code != "" {
		t.Fatalf("places: %+v", a.result.Places)
	}
	p := a.result.Places[0]
	if !(math.Abs(p.Scale/a.truth.PixelScale-1) <= 3e-4) || p.Mirrored || p.Subs != len(a.truth.Subs) {
		t.Errorf("scale %.5f, want %.5f; mirrored %v; %d subs placed", p.Scale, a.truth.PixelScale, p.Mirrored, p.Subs)
	}
	if !(math.Abs(p.FocalLength.V-250) <= 0.1) {
		t.Errorf("focal length %v", p.FocalLength)
	}
	for _, want := range a.truth.Subs {
		s := a.subs[want.File]
		if s.Plate.Why.Code != "" {
			t.Errorf("%v: %v", want.File, s.Plate.Why)
			continue
		}
		// The target's centre falls at ShiftX, ShiftY from the frame's.
		ra, dec := s.Plate.Sky(float64(sc.Width-1)/2+want.ShiftX, float64(sc.Height-1)/2+want.ShiftY)
		if off := 3600 * catalogue.Separation(ra, dec, 310, 40) / a.truth.PixelScale; off > 0.15 {
			t.Errorf("%s: the target is %.2f px off", want.File, off)
		}
		// The gain's own error is no part of the zero point.
		gain := 2.5 * math.Log10(s.ElectronsPerADU/a.truth.Camera.Gain)
		if d := s.ZeroPoint.V - gain - want.ZeroPoint; !(math.Abs(d) <= 0.03) {
			t.Errorf("%s: zero point %v, want %.3f: %+.3f off", want.File, s.ZeroPoint, want.ZeroPoint, d)
		}
		sky := want.ZeroPoint - 2.5*math.Log10(want.Clearness) - 2.5*math.Log10(want.SkyRate/a.truth.PixelScale/a.truth.PixelScale)
		if d := s.SkyMag.V - sky; !(math.Abs(d) <= 0.05) {
			t.Errorf("%s: sky %v, want %.3f", want.File, s.SkyMag, sky)
		}
	}
	t.Logf("%d of %d catalogue stars, rms %.2f\", odds 10^%.0f; zero point %+v, sky %+v, limit %+v", p.Stars, p.InField, p.RMS, p.LogOdds,
		a.result.Subs[0].ZeroPoint, a.result.Subs[0].SkyMag, a.result.Subs[0].LimitingMag)
}

// A sub that bears a target's name and shows another field is told to be no such target,
// and how far away it lies; the target's own subs are not.
func TestNotTheTargetThatTheHeaderNames(t *testing.T) {
	if testing.Short() {
		t.Skip("two fields of 0.6 megapixels; TestMadeNightIsOnTheScaleOfMagnitudes places one")
	}
	t.Parallel()
	sc := starry(43, evening, 0, 5)
	sc.Width, sc.Height = 900, 700
	sc.Targets = append(sc.Targets, demo.Target{Name: "Otter Cluster", RA: 301.5, Dec: 36.5, Real: true})
	sc.Blocks = append(sc.Blocks, demo.Block{Target: 1, Filter: "L", Exposure: 60, Subs: 1})
	r := underOneName(t, sc, "Ibis Cloud")
	want := fmt.Sprintf("field_doubt(target=Ibis Cloud field 2, finding=target_elsewhere, apart_deg=%.1f", catalogue.Separation(310, 40, 301.5, 36.5))
	if !strings.Contains(fmt.Sprint(r.Warnings), want) {
		t.Errorf("%q is not among %v", want, r.Warnings)
	}
	if n := strings.Count(fmt.Sprint(r.Warnings), "target_elsewhere"); n != 1 {
		t.Errorf("told %d times", n)
	}
}
