package night_test

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
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
	return analyseWith(t, sc, night.DefaultSettings())
}

func analyseWith(t *testing.T, sc demo.Scenario, s night.Settings) analysed {
	t.Helper()
	a := analysed{dir: filepath.Join(t.TempDir(), sc.Name), subs: map[string]*night.Sub{}}
	var err error
	if a.truth, err = demo.Write(context.Background(), a.dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	before := listing(t, a.dir)
	if a.result, err = night.Run(context.Background(), []string{a.dir}, s, nil); err != nil {
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

// checkVerdicts holds every plain case to the truth: good subs are kept,
// spoiled ones culled for the right reason; and satellites, which spoil nothing,
// are counted.
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
		if n := len(got.Field.Streaks); n != want.Streaks {
			t.Errorf("%s: %s has %d streaks, truth %d", a.truth.Scenario, want.File, n, want.Streaks)
		}
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
			t.Errorf("%s: %s is %s, judged %s: %v\n\ttruth: clearness %.2f, sky %.2f, FWHM %.2f, ellipticity %.2f",
				a.truth.Scenario, want.File, truly(want), judged(got), got.Findings, want.Clearness, want.SkyRatio, want.FWHMRatio, want.Ellipticity)
		}
	}
	if float64(culled) > 0.02*float64(good) {
		t.Errorf("%s: %d of %d good subs are culled", a.truth.Scenario, culled, good)
	}
}

// Every plainly good and plainly spoiled sub of nights with every kind of
// trouble is judged right, for the right reason. Where there are stars enough,
// two thirds of a frame show the same; and what calibration is measured to is
// TestDemoNight's to tell: half as many of its frames do. Short runs take one night;
// whole ones a third of the nights each, so that none takes a minute on a busy machine.
func TestVerdictsOnFirstThirdOfNights(t *testing.T)  { judgeNights(t, 0) }
func TestVerdictsOnSecondThirdOfNights(t *testing.T) { judgeNights(t, 1) }
func TestVerdictsOnLastThirdOfNights(t *testing.T)   { judgeNights(t, 2) }

func judgeNights(t *testing.T, part int) {
	total := confusion{}
	for i, sc := range demo.Nights() {
		if i%3 != part || testing.Short() && sc.Name != "moonrise" {
			continue
		}
		sc.Bias, sc.Darks[0].Frames, sc.FlatLevels = 4, 3, []float64{0.4}
		if sc.Stars > 500 { // few stars are few enough
			sc.Width, sc.Height, sc.Stars = sc.Width*2/3, sc.Height*2/3, sc.Stars*4/9
		}
		if testing.Short() {
			sc.Width, sc.Height, sc.Stars = sc.Width*4/5, sc.Height*4/5, sc.Stars*16/25
		}
		t.Run(sc.Name, func(t *testing.T) {
			analyse(t, sc).checkVerdicts(t, total)
		})
	}
	t.Logf("confusion matrix:\n%s", total)
}

// The demo night: verdicts, the camera's figures and each sub's.
func TestDemoNight(t *testing.T) {
	if testing.Short() {
		t.Skip("112 frames of 1.2 megapixels")
	}
	a := analyse(t, demo.Default)
	matrix := confusion{}
	a.checkVerdicts(t, matrix)
	t.Logf("confusion matrix of the demo night:\n%s", matrix)
	t.Run("camera", a.checkCamera)
	t.Run("darks", a.checkDarks)
	t.Run("subs", a.checkSubs)
}
