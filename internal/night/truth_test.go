package night_test

import (
	"cmp"
	"context"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// analysed is a written night and what the pipeline says about it.
type analysed struct {
	dir    string
	truth  *demo.Truth
	result *night.Result
	subs   map[string]*night.Sub // by file
}

func analyse(t *testing.T, sc demo.Scenario) analysed {
	t.Helper()
	a := analysed{dir: filepath.Join(t.TempDir(), sc.Name), subs: map[string]*night.Sub{}}
	var err error
	if a.truth, err = demo.Write(context.Background(), a.dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	before := listing(t, a.dir)
	if a.result, err = night.Run(context.Background(), []string{a.dir}, night.DefaultSettings(), nil); err != nil {
		t.Fatal(err)
	}
	if after := listing(t, a.dir); !slices.Equal(before, after) {
		t.Error("the source folder has changed")
	}
	for _, s := range a.result.Subs {
		a.subs[s.File] = s
	}
	return a
}

// listing is every file below a folder with its size and time.
func listing(t *testing.T, dir string) []string {
	t.Helper()
	var all []string
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := os.Stat(path)
		if err == nil {
			all = append(all, fmt.Sprint(path, info.Size(), info.ModTime()))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// judgement is a row or a column of the confusion matrix.
type judgement struct{ verdict, cause string }

func (j judgement) String() string { return strings.TrimSpace(j.verdict + " " + j.cause) }

func truly(s demo.Sub) judgement {
	j := judgement{verdict: string(s.Class)}
	if len(s.Causes) > 0 {
		j.cause = s.Causes[0]
	}
	return j
}

func judged(s *night.Sub) judgement {
	j := judgement{verdict: string(s.Verdict)}
	if len(s.Causes) > 0 {
		j.cause = string(s.Causes[0])
	}
	return j
}

// confusion counts verdicts by truth.
type confusion map[judgement]map[judgement]int

func (c confusion) add(truth, verdict judgement) {
	if c[truth] == nil {
		c[truth] = map[judgement]int{}
	}
	c[truth][verdict]++
}

// String is the matrix as a table, truths downwards.
func (c confusion) String() string {
	byText := func(a, b judgement) int { return cmp.Compare(a.String(), b.String()) }
	columns := map[judgement]bool{}
	for _, row := range c {
		for v := range row {
			columns[v] = true
		}
	}
	heads := slices.SortedFunc(maps.Keys(columns), byText)
	var b strings.Builder
	fmt.Fprintf(&b, "%-22s", "truth")
	for _, h := range heads {
		fmt.Fprintf(&b, " %16s", h)
	}
	for _, truth := range slices.SortedFunc(maps.Keys(c), byText) {
		fmt.Fprintf(&b, "\n%-22s", truth)
		for _, h := range heads {
			fmt.Fprintf(&b, " %16d", c[truth][h])
		}
	}
	return b.String()
}

// checkVerdicts holds every plain case to the truth: good subs are kept,
// spoiled ones culled for the right reason.
func (a analysed) checkVerdicts(t *testing.T, c confusion) {
	t.Helper()
	var good, culled int
	for _, want := range a.truth.Subs {
		got := a.subs[want.File]
		if got == nil {
			t.Errorf("%s: no row for %s", a.truth.Scenario, want.File)
			continue
		}
		c.add(truly(want), judged(got))
		wrong := false
		switch want.Class {
		case demo.Good:
			good++
			if got.Verdict == subs.Cull {
				culled++
			}
			wrong = got.Verdict != subs.Keep
		case demo.Spoiled:
			wrong = got.Verdict != subs.Cull || len(got.Causes) == 0 || string(got.Causes[0]) != want.Causes[0]
		}
		if wrong {
			t.Errorf("%s: %s is %s, judged %s: %s\n\ttruth: clearness %.2f, sky %.2f, FWHM %.2f, ellipticity %.2f",
				a.truth.Scenario, want.File, truly(want), judged(got), got.Sentence, want.Clearness, want.SkyRatio, want.FWHMRatio, want.Ellipticity)
		}
	}
	if float64(culled) > 0.02*float64(good) {
		t.Errorf("%s: %d of %d good subs are culled", a.truth.Scenario, culled, good)
	}
}

// Every plainly good and plainly spoiled sub of nights with every kind of
// trouble is judged right, for the right reason.
func TestVerdictsOnSimulatedNights(t *testing.T) {
	total := confusion{}
	for _, sc := range demo.Nights() {
		t.Run(sc.Name, func(t *testing.T) {
			analyse(t, sc).checkVerdicts(t, total)
		})
	}
	t.Logf("confusion matrix, subs of %d nights:\n%s", len(demo.Nights()), total)
}

// The demo night: verdicts, the camera's figures and each sub's.
func TestDemoNight(t *testing.T) {
	a := analyse(t, demo.Default)
	matrix := confusion{}
	a.checkVerdicts(t, matrix)
	t.Logf("confusion matrix of the demo night:\n%s", matrix)
	t.Run("camera", a.checkCamera)
	t.Run("darks", a.checkDarks)
	t.Run("subs", a.checkSubs)
}

// sets are the calibration sets of one kind.
func (a analysed) sets(kind string) []*calib.Set {
	return slices.DeleteFunc(slices.Clone(a.result.Calib.Sets), func(s *calib.Set) bool { return s.Kind != kind })
}

// near holds a figure to its truth within a tolerance of the design's accuracy table.
func near(t *testing.T, what string, got stats.Value, want, tolerance float64) {
	t.Helper()
	if !got.OK() {
		t.Errorf("%s: not measured: %s", what, got.Why)
		return
	}
	if math.Abs(got.V-want) > tolerance {
		t.Errorf("%s: %.6g, truth %.6g, off by %.2g, allowed %.2g", what, got.V, want, got.V-want, tolerance)
	}
}

func (a analysed) checkCamera(t *testing.T) {
	cam := a.truth.Camera
	for _, s := range a.sets("bias") {
		near(t, "offset", s.Metric("offset_adu"), cam.OffsetADU, 0.05)
		near(t, "read noise", s.Metric("read_noise_e"), cam.TemporalNoiseE, 0.01*cam.TemporalNoiseE)
		near(t, "sample step", s.Metric("sample_step_adu"), float64(cam.StepADU), 0)
	}
	for _, s := range a.sets("flat") {
		near(t, s.Label+" gain", s.Metric("gain_e_per_adu"), cam.Gain, 0.01*cam.Gain)
	}
	cameras := a.sets("camera")
	if len(cameras) != 1 {
		t.Fatalf("%d cameras", len(cameras))
	}
	c := cameras[0]
	near(t, "gain", c.Metric("gain_e_per_adu"), cam.Gain, 0.01*cam.Gain)
	near(t, "read noise", c.Metric("read_noise_e"), cam.TemporalNoiseE, 0.01*cam.TemporalNoiseE)
	near(t, "saturation", c.Metric("saturation_adu"), cam.SaturationADU, 4) // one converter step
	near(t, "full well", c.Metric("full_well_e"), cam.FullWellE, 0.01*cam.FullWellE)
	near(t, "doubling", c.Metric("dark_doubling_c"), cam.DoublingC(0), 0.3)
	near(t, "activation energy", c.Metric("dark_activation_ev"), cam.ActivationEV, 0.03*cam.ActivationEV)
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
		near(t, s.Label+" median rate", s.Metric("dark_current_e_per_s"), want.Median, 0.03*want.Median)
		near(t, s.Label+" mean rate", s.Metric("dark_current_mean_e_per_s"), want.Mean, 0.03*want.Mean)
		// Every hot pixel of the truth stands well above each set's threshold;
		// 97 % must be found and 1 % may be false.
		n := float64(len(a.truth.Hot))
		near(t, s.Label+" hot pixels", s.Metric("hot_pixels"), n, 0.03*n)
	}
}

func (a analysed) checkSubs(t *testing.T) {
	var fwhm, ellipticity, transparency, sky, shift, rotation []float64
	for _, want := range a.truth.Subs {
		got := a.subs[want.File]
		if got == nil {
			continue
		}
		if want.Class != demo.Good {
			t.Logf("XX %s %v: FWHM %+.1f %% of %.2f (%d stars), ellipticity %.3f truth %.3f, transparency %.3f (%d stars) truth %.3f, sky %.4f truth %.4f",
				want.File, truly(want), 100*(got.Field.FWHM.V/want.FWHM-1), want.FWHM, got.Field.FWHM.N, got.Field.Ellipticity.V, want.Ellipticity,
				got.Transparency.Ratio.V, got.Transparency.Ratio.N, want.Transparency, got.SkyRate.V, want.SkyRate)
			continue
		}
		if !got.Field.FWHM.OK() || !got.Transparency.Ratio.OK() || !got.Align.ShiftX.OK() {
			t.Errorf("%s: FWHM %+v, transparency %+v, shift %+v", want.File, got.Field.FWHM, got.Transparency.Ratio, got.Align.ShiftX)
			continue
		}
		fwhm = append(fwhm, got.Field.FWHM.V/want.FWHM-1)
		ellipticity = append(ellipticity, got.Field.Ellipticity.V-want.Ellipticity)
		transparency = append(transparency, got.Transparency.Ratio.V-want.Transparency)
		sky = append(sky, got.SkyRate.V/want.SkyRate-1)
		t.Logf("%s: FWHM %+.1f %% of %.2f (%d stars), ellipticity %.3f truth %.3f, transparency %.3f (%d stars) truth %.3f, sky %.4f truth %.4f, %d stars truth %d",
			want.File, 100*(got.Field.FWHM.V/want.FWHM-1), want.FWHM, got.Field.FWHM.N, got.Field.Ellipticity.V, want.Ellipticity,
			got.Transparency.Ratio.V, got.Transparency.Ratio.N, want.Transparency, got.SkyRate.V, want.SkyRate, got.Field.Count, want.StarsAbove5)
		if n := len(got.Field.Streaks); n != want.Streaks {
			t.Errorf("%s: %d streaks, truth %d", want.File, n, want.Streaks)
		}
		for _, other := range a.truth.Subs {
			o := a.subs[other.File]
			if other.Class != demo.Good || other.Target != want.Target {
				continue
			}
			dx, dy, turn := relative(want, other)
			gx, gy, gturn := measuredRelative(got, o)
			shift = append(shift, math.Hypot(gx-dx, gy-dy))
			rotation = append(rotation, math.Remainder(gturn-turn, 360))
		}
	}
	worst := func(what string, d []float64, allowed float64) {
		t.Helper()
		var m float64
		for _, v := range d {
			m = max(m, math.Abs(v))
		}
		t.Logf("%s: median %+.4f, worst %.4f of %d", what, stats.Median(d), m, len(d))
		if m > allowed || len(d) == 0 || math.IsNaN(stats.Median(d)) {
			t.Errorf("%s: off by up to %.4f, allowed %.4f", what, m, allowed)
		}
	}
	worst("FWHM, relative", fwhm, 0.02)
	worst("ellipticity", ellipticity, 0.015)
	worst("transparency", transparency, 0.02)
	worst("sky, relative", sky, 0.03)
	worst("shift, px", shift, 0.1)
	worst("rotation, degrees", rotation, 0.01)
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
