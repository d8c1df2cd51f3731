package frames

import (
	"fmt"
	"testing"
	"time"
)

// Exposures without a unit are milliseconds where in seconds they would overlap: of subs
// and of what else the camera gave by that keyword. Long exposures, two cameras of one
// name side by side, a unit or a handful of frames leave them as they are.
func TestExposuresInMilliseconds(t *testing.T) {
	type series struct {
		n        int
		exposure string // value of EXPOSURE
		gap      time.Duration
	}
	for _, c := range []struct {
		what string
		all  []series
		want []float64 // s, one a series
	}{
		{"subs", []series{{6, "300000", 305 * time.Second}}, []float64{300}},
		{"subs with pauses", []series{{6, "120000", 20 * time.Minute}}, []float64{120}},
		{"subs and flats", []series{{6, "60000.", 62 * time.Second}, {5, "2500", 4 * time.Second}, {5, "1", time.Second}}, []float64{60, 2.5, 0.001}},
		{"few", []series{{3, "300000", 305 * time.Second}}, []float64{300000}},
		{"seconds", []series{{8, "1200", 1205 * time.Second}}, []float64{1200}},
		{"long seconds", []series{{8, "3000", 3010 * time.Second}}, []float64{3000}},
		{"a unit", []series{{6, "300000 / [ms]", 305 * time.Second}}, []float64{300}},
		{"seconds by a unit", []series{{6, "300000 / [s]", 305 * time.Second}}, []float64{300000}},
		{"nor in milliseconds", []series{{8, "300000", 20 * time.Second}}, []float64{300000}},
	} {
		dir := t.TempDir()
		clock := time.Date(2025, 3, 1, 20, 0, 0, 0, time.UTC)
		for k, s := range c.all {
			for i := range s.n {
				writeIn(t, dir, fmt.Sprintf("%d_%02d.fits", k, i), lightScene.file("EXPOSURE= "+s.exposure, "IMAGETYP= 'Light'", "DATE-OBS= '"+clock.Format("2006-01-02T15:04:05")+"'"))
				clock = clock.Add(s.gap)
			}
			clock = clock.Add(2 * time.Hour)
		}
		for _, f := range scanDir(t, dir) {
			if want := c.want[f.Name[0]-'0']; f.Meta.Exposure != want {
				t.Errorf("%s: %s is of %g s, want %g", c.what, f.Name, f.Meta.Exposure, want)
			}
		}
	}
	dir := t.TempDir()
	for i := range 6 {
		for j := range 2 {
			at := time.Date(2025, 3, 1, 20, 0, i*1205+j*2, 0, time.UTC)
			writeIn(t, dir, fmt.Sprintf("%d_%d.fits", i, j), lightScene.file("EXPOSURE= 1200", "IMAGETYP= 'Light'", "DATE-OBS= '"+at.Format("2006-01-02T15:04:05")+"'"))
		}
	}
	for _, f := range scanDir(t, dir) {
		if f.Meta.Exposure != 1200 {
			t.Errorf("two cameras side by side: %s is of %g s", f.Name, f.Meta.Exposure)
		}
	}
}
