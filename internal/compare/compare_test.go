package compare

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/ledger"
	"fitsqa/internal/stats"
)

func within(t *testing.T, what string, got stats.Value, want, tol float64) {
	t.Helper()
	if !(math.Abs(got.V-want) <= tol) {
		t.Errorf("%s: %+v, want %g ± %g", what, got, want, tol)
	}
}

// outdir writes the part of night.json that is compared: subs of 300 s at 0.5 e-/ADU and
// 2 arcsec/px, whose noise is the sky's.
func outdir(t *testing.T, filter string, zero, sky float64) string {
	t.Helper()
	dir := t.TempDir()
	noise := math.Sqrt(sky*4*300) / 0.5 // ADU: sky e-/s a square arcsec, 4 of them a pixel
	var list []string
	for i := range 9 {
		wobble := 1 + 0.01*float64(i-4)
		list = append(list, fmt.Sprintf(`{"target": "Heron Nebula", "filter": %q, "verdict": "keep", "exposure_s": 300, "pixel_scale_arcsec": 2, "e_per_adu": 0.5,
			"measures": {"sky_e_per_s": {"value": %g, "n": 1}, "random_noise_adu": {"value": %g, "n": 1}, "fwhm_arcsec": {"value": %g, "n": 1},
			"ellipticity": {"value": null, "n": 0, "reason": "no round stars"}, "sky_mag_arcsec2": {"value": 20, "n": 1}}}`, filter, sky*4, noise, 3*wobble))
	}
	list = append(list, `{"target": "Heron Nebula", "filter": "`+filter+`", "verdict": "cull", "measures": {"fwhm_arcsec": {"value": 99, "n": 1}}}`)
	text := fmt.Sprintf(`{"schema_version": 2, "subs": [%s],
		"groups": [{"target": "Heron Nebula", "filter": %q, "season": {"zero_point_mag": {"value": %g, "uncertainty": 0.01, "n": 50}}}],
		"calibration": [{"kind": "bias", "camera": "C", "gain_setting": 100, "metrics": [{"metric": "read_noise_e", "unit": "e-", "value": 1.5, "uncertainty": 0.01, "n": 20}]}]}`,
		strings.Join(list, ","), filter, zero)
	if err := os.WriteFile(filepath.Join(dir, "night.json"), []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return dir
}

func read(t *testing.T, dir string) Side {
	t.Helper()
	s, err := FromOutput(dir)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A filter that passes 0.93 of the light and 0.55 of the sky gives 0.93/√0.55 = 1.254
// times the signal to noise in equal time, and 1/√0.55 = 1.348 for a line that passes whole.
func TestNewFilterBesideOld(t *testing.T) {
	r := Of(read(t, outdir(t, "Ha", 20, 0.4)), read(t, outdir(t, "Ha narrow", 20+2.5*math.Log10(0.93), 0.22)))
	if len(r.Pairs) != 1 || len(r.Alone) != 0 {
		t.Fatalf("%+v", r)
	}
	p := r.Pairs[0]
	within(t, "throughput", p.Throughput, 0.93, 1e-9)
	within(t, "its error", stats.Value{V: p.Throughput.Err}, 0.93*0.01*math.Sqrt2/1.0857, 1e-6)
	within(t, "sky", p.SkyRatio, 0.55, 1e-9)
	within(t, "signal to noise", p.Continuum, 0.93/math.Sqrt(0.55), 1e-9)
	within(t, "of a line", p.LineLight, 1/math.Sqrt(0.55), 1e-9)
	within(t, "FWHM", p.Second.FWHM, 3, 1e-9) // the culled sub is no part of it
	if p.First.Subs != 9 || !(p.First.FWHM.Err > 0) || p.First.Ellipticity.OK() || !p.First.Ellipticity.Why.Is(fact.Of(AsWritten, fact.Text("reason", "no round stars"))) {
		t.Errorf("%+v", p.First)
	}
	if len(r.Camera) != 1 || r.Camera[0].Ratio.V != 1 {
		t.Errorf("camera: %+v", r.Camera)
	}
}

// Darks of two exposures and one temperature are one line and not two of one name.
func TestOneLineForDarksOfOneTemperature(t *testing.T) {
	dark := Figure{"Lumen", "dark gain 100 -10 °C", "dark_current_e_per_s", "e-/s", stats.Known(0.01, 0.001, 5)}
	if got := cameras([]Figure{dark, dark}, []Figure{dark, dark}); len(got) != 1 {
		t.Errorf("%+v", got)
	}
}

// Without a zero point nothing is said of the light, and the reason is given.
func TestUnknownIsSaid(t *testing.T) {
	a, b := read(t, outdir(t, "L", 20, 1)), read(t, outdir(t, "narrow", 20, 1))
	b.Groups[0].ZeroPoint = stats.Missing("the field was not found")
	p := Of(a, b).Pairs[0]
	if p.Throughput.OK() || p.Continuum.OK() || p.Throughput.Why.Code != "the field was not found" || !p.LineLight.OK() {
		t.Errorf("%+v", p)
	}
}

func TestGroupsWithoutAnotherAreNamed(t *testing.T) {
	a, b := read(t, outdir(t, "L", 20, 1)), read(t, outdir(t, "L", 20, 1))
	b.Groups[0].Target = "Otter Cluster"
	if r := Of(a, b); len(r.Pairs) != 0 || len(r.Alone) != 2 {
		t.Errorf("%+v", r)
	}
}

// Nights whose field the catalogue does not know go by the stars that both show, where
// both were held against one reference.
func TestLightByMatchedStars(t *testing.T) {
	held := func(reference string, level float64) Side {
		dir := outdir(t, "L", 20, 1)
		path := filepath.Join(dir, "night.json")
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		season := fmt.Sprintf(`"season": {"reference": %q, "level": {"value": %g, "uncertainty": 0.004, "n": 60}, "zero_point_mag": {"value": null, "n": 0, "reason": "not found"}}}]`, reference, level)
		text = regexp.MustCompile(`"season": \{.*\}\}\]`).ReplaceAll(text, []byte(season))
		if err := os.WriteFile(path, text, 0o666); err != nil {
			t.Fatal(err)
		}
		return read(t, dir)
	}
	p := Of(held("2025-08-20, 1", 0.96), held("2025-08-20, 1", 0.48)).Pairs[0]
	within(t, "throughput", p.Throughput, 0.5, 1e-9)
	within(t, "its error", stats.Value{V: p.Throughput.Err}, 0.5*math.Hypot(0.004/0.96, 0.004/0.48), 1e-9)
	for _, other := range []string{"2025-08-20, 2", ""} { // each by its own stars: 1 of nothing in common
		if p := Of(held("", 1), held(other, 1)).Pairs[0]; p.Throughput.OK() || !p.Throughput.Why.Is(fact.Of(AsWritten, fact.Text("reason", "not found"))) {
			t.Errorf("%q: %+v", other, p.Throughput)
		}
	}
}

func TestNightsOfTheLedger(t *testing.T) {
	ctx := context.Background()
	l, err := ledger.Open(ctx, filepath.Join(t.TempDir(), "l.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	nan := math.NaN()
	var rec ledger.Record
	for night, zero := range map[string]float64{"2025-08-20": 20, "2025-08-21": 19.5} {
		date, _ := time.Parse(time.DateOnly, night)
		for i := range 5 {
			rec.Subs = append(rec.Subs, ledger.Sub{Camera: "C", Target: "T", Filter: "L", Night: night, Start: date.Add(time.Duration(20+i) * time.Hour),
				Exposure: 60, Verdict: "keep", Weight: 1, FWHM: 3, Sky: 2, Ellipticity: 0.1 + 0.01*float64(i), Noise: 4, SkyMag: nan, Lat: nan, Lon: nan, RA: nan, Dec: nan, Scale: nan, Level: nan, Depth: nan, Zero: zero, ZeroErr: 0.02, LevelErr: nan})
		}
	}
	if err := l.Record(ctx, rec); err != nil {
		t.Fatal(err)
	}
	var sides [2]Side
	for i, night := range []string{"2025-08-20", "2025-08-21"} {
		if sides[i], err = FromLedger(ctx, l, night); err != nil {
			t.Fatal(err)
		}
	}
	p := Of(sides[0], sides[1]).Pairs[0]
	within(t, "throughput", p.Throughput, math.Pow(10, -0.2), 1e-9)
	within(t, "its error", stats.Value{V: p.Throughput.Err}, math.Pow(10, -0.2)*0.02*math.Sqrt2/1.0857, 1e-6)
	within(t, "sky", p.SkyRatio, 1, 1e-9)
	within(t, "ellipticity", p.First.Ellipticity, 0.12, 1e-9)
	within(t, "signal to noise", p.Continuum, math.Pow(10, -0.2), 1e-9)
	// Without zero points the stars of the same field tell, where it is the same optics.
	for optics, want := range map[string]float64{"O": 0.8, "other": math.NaN()} {
		var dim [2]Side
		for i := range dim {
			g := sides[i].Groups[0]
			g.ZeroPoint, g.Reference, g.Level = stats.Missing("no field"), []string{"O", optics}[i], stats.Known([]float64{1, 0.8}[i], 0.01, 50)
			dim[i] = Side{Name: sides[i].Name, Groups: []Group{g}}
		}
		if got := Of(dim[0], dim[1]).Pairs[0].Throughput; got.OK() != (want > 0) || got.OK() && math.Abs(got.V-want) > 1e-9 {
			t.Errorf("by %s: %+v", optics, got)
		}
	}
	if p.First.SkyMag.OK() || p.First.SkyMag.Why.Code == "" {
		t.Errorf("sky magnitude %+v", p.First.SkyMag)
	}
	if _, err := FromLedger(ctx, l, "2025-08-22"); err == nil {
		t.Error("a night that is not there is one")
	}
}

// The reports' own night.json has all that is compared, under the names that are read
// here: a figure that is unknown says why, none is merely not there.
func TestReportsHaveWhatIsCompared(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "report", "testdata", "night.json.golden"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	put := func(text []byte) {
		if err := os.WriteFile(filepath.Join(dir, "night.json"), text, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	put(text)
	s := read(t, dir)
	if len(s.Groups) == 0 || len(s.Camera) == 0 {
		t.Fatalf("%d groups, %d figures of cameras", len(s.Groups), len(s.Camera))
	}
	for _, g := range s.Groups {
		for name, v := range map[string]stats.Value{"zero point": g.ZeroPoint, "sky": g.Sky, "sky magnitude": g.SkyMag, "FWHM": g.FWHM, "ellipticity": g.Ellipticity, "noise": g.Noise} {
			if g.Subs > 0 && !v.OK() && v.Why.Code == "" {
				t.Errorf("%s %s: no %s and no reason", g.Target, g.Filter, name)
			}
		}
	}
	for _, key := range []string{`"schema_version": 2`, `"random_noise_adu"`, `"zero_point_mag": {`, `"verdict"`, `"ellipticity": {`} {
		put(bytes.ReplaceAll(text, []byte(key), []byte(strings.Replace(key, `"`, `"x_`, 1))))
		if _, err := FromOutput(dir); err == nil {
			t.Errorf("without %s it is read", key)
		}
	}
}
