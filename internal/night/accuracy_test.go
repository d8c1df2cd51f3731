package night_test

import (
	"math"
	"slices"
	"testing"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// sets are the calibration sets of one kind.
func (a analysed) sets(kind string) []*sensor.Set {
	return slices.DeleteFunc(slices.Clone(a.result.Calib.Sets), func(s *sensor.Set) bool { return s.Kind != kind })
}

// near holds a figure to its truth within a tolerance of the design's accuracy table.
func near(t *testing.T, what string, got stats.Value, want, tolerance float64) {
	t.Helper()
	if !got.OK() {
		t.Errorf("%v: not measured: %v", what, got.Why)
		return
	}
	if !(math.Abs(got.V-want) <= tolerance) {
		t.Errorf("%s: %.6g, truth %.6g, off by %.2g, allowed %.2g", what, got.V, want, got.V-want, tolerance)
	}
}

func (a analysed) checkCamera(t *testing.T) {
	cam := a.truth.Camera
	for _, s := range a.sets("bias") {
		near(t, "offset", s.Figure("offset_adu").Value, cam.OffsetADU, 0.05)
		near(t, "read noise", s.Figure("read_noise_e").Value, cam.TemporalNoiseE, 0.01*cam.TemporalNoiseE)
		near(t, "sample step", s.Figure("sample_step_adu").Value, float64(cam.StepADU), 0)
	}
	for _, s := range a.sets("flat") {
		near(t, s.Label+" gain", s.Figure("gain_e_per_adu").Value, cam.Gain, 0.01*cam.Gain)
		near(t, s.Label+" response", s.Figure("prnu_pct").Value, 100*cam.PRNU, 0.05*100*cam.PRNU)
	}
	cameras := a.sets("camera")
	if len(cameras) != 1 {
		t.Fatalf("%d cameras", len(cameras))
	}
	c := cameras[0]
	near(t, "gain", c.Figure("gain_e_per_adu").Value, cam.Gain, 0.01*cam.Gain)
	near(t, "read noise", c.Figure("read_noise_e").Value, cam.TemporalNoiseE, 0.01*cam.TemporalNoiseE)
	near(t, "saturation", c.Figure("saturation_adu").Value, cam.SaturationADU, 4) // one converter step
	near(t, "full well", c.Figure("full_well_e").Value, cam.FullWellE, 0.01*cam.FullWellE)
	near(t, "doubling", c.Figure("dark_doubling_c").Value, cam.DoublingC(0), 0.3)
	near(t, "activation energy", c.Figure("dark_activation_ev").Value, cam.ActivationEV, 0.03*cam.ActivationEV)
}

func (a analysed) checkDarks(t *testing.T) {
	darks := a.sets("dark")
	if len(darks) != 4 {
		t.Errorf("%d sets of darks, want 4", len(darks))
	}
	for _, s := range darks {
		i := slices.IndexFunc(a.truth.DarkRates, func(r demo.DarkRate) bool { return math.Abs(r.TempC-s.Group.SetTemp) < 0.5 })
		if i < 0 {
			t.Errorf("%s: no such temperature", s.Label)
			continue
		}
		want := a.truth.DarkRates[i]
		near(t, s.Label+" median rate", s.Figure("dark_current_e_per_s").Value, want.Median, 0.03*want.Median)
		near(t, s.Label+" mean rate", s.Figure("dark_current_mean_e_per_s").Value, want.Mean, 0.03*want.Mean)
		// Every hot pixel of the truth stands well above each set's threshold;
		// 97 % must be found and 1 % may be false.
		n := float64(len(a.truth.Hot))
		near(t, s.Label+" hot pixels", s.Figure("hot_pixels").Value, n, 0.03*n)
	}
}

// checkSubs holds the plainly good subs to the accuracy table.
func (a analysed) checkSubs(t *testing.T) {
	var fwhm, transparency, blurred, shift, rotation deviations
	for _, want := range a.truth.Subs {
		got := a.subs[want.File]
		if want.Class != demo.Good {
			continue
		}
		if !got.Field.FWHM.OK() || !got.Transparency.Ratio.OK() || !got.Align.ShiftX.OK() {
			t.Errorf("%s: FWHM %+v, transparency %+v, shift %+v", want.File, got.Field.FWHM, got.Transparency.Ratio, got.Align.ShiftX)
			continue
		}
		fwhm.add(got.Field.FWHM.V/want.FWHM - 1)
		if off := got.Transparency.Ratio.V - want.Transparency; want.BlurArcsec > 1.5 {
			blurred.add(off)
		} else {
			transparency.add(off)
		}
		checkEllipticity(t, got.Field.Ellipticity, want)
		// Stars too faint to be found and the wings of the others add 0.5 % to
		// the sky of the broad filter; the median of samples in steps of 1.6 e-,
		// less a mean of five darks, is sure to 0.3 steps.
		near(t, want.File+" sky, e-", got.SkyRate.Scaled(want.Exposure), want.SkyRate*want.Exposure, 0.5+0.006*want.SkyRate*want.Exposure)
		for _, other := range a.truth.Subs {
			if other.Class == demo.Good {
				dx, dy, turn := relative(want, other)
				gx, gy, gturn := measuredRelative(got, a.subs[other.File])
				shift.add(math.Hypot(gx-dx, gy-dy))
				rotation.add(math.Remainder(gturn-turn, 360))
			}
		}
	}
	fwhm.check(t, "FWHM, relative", 0.02)
	transparency.check(t, "transparency", 0.02)
	// A ring spread by seeing is no Moffat profile: the light in its wings,
	// which the fit extrapolates, is 1 to 2 % off.
	blurred.check(t, "transparency of subs a little out of focus", 0.03)
	shift.check(t, "shift, px", 0.1)
	rotation.check(t, "rotation, degrees", 0.01) // 0.1 px at the corner
}

// checkEllipticity holds the mean length of the ellipticity vectors to 0.015.
// From a few stars noise hides how far they point different ways; then the
// length of their mean vector is as good an answer, each to 0.025.
func checkEllipticity(t *testing.T, got stats.Value, want demo.Sub) {
	t.Helper()
	low, high := want.Ellipticity-0.015, want.Ellipticity+0.015
	if got.N < 100 {
		low, high = want.Ellipticity*want.Coherence-0.025, want.Ellipticity+0.025
	}
	if !(got.V >= low && got.V <= high) {
		t.Errorf("%s: ellipticity %.3f of %d stars, truth %.3f, coherence %.2f", want.File, got.V, got.N, want.Ellipticity, want.Coherence)
	}
}

// deviations are differences between figures and their truths.
type deviations []float64

func (d *deviations) add(v float64) { *d = append(*d, v) }

func (d deviations) check(t *testing.T, what string, allowed float64) {
	t.Helper()
	worst := 0.0
	for _, v := range d {
		if !(math.Abs(v) <= worst) { // NaN too
			worst = math.Abs(v)
		}
	}
	t.Logf("%s: median %+.4f, worst %.4f of %d", what, stats.Median(d), worst, len(d))
	if !(worst <= allowed) || len(d) == 0 {
		t.Errorf("%s: off by up to %.4f, allowed %.4f", what, worst, allowed)
	}
}

// relative is where the centre of sub b falls in sub a, from a's centre, and
// how far a is turned from b, by the truth.
func relative(a, b demo.Sub) (x, y, turn float64) {
	turn = a.Rotation - b.Rotation
	sin, cos := math.Sincos(turn * math.Pi / 180)
	return a.ShiftX - cos*b.ShiftX + sin*b.ShiftY, a.ShiftY - sin*b.ShiftX - cos*b.ShiftY, turn
}

// measuredRelative is the same by the analysis, whose shifts are relative to
// one reference.
func measuredRelative(a, b *night.Sub) (x, y, turn float64) {
	return relative(
		demo.Sub{ShiftX: a.Align.ShiftX.V, ShiftY: a.Align.ShiftY.V, Rotation: a.Align.RotationDeg.V},
		demo.Sub{ShiftX: b.Align.ShiftX.V, ShiftY: b.Align.ShiftY.V, Rotation: b.Align.RotationDeg.V},
	)
}
