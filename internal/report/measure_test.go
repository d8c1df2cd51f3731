package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/night"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Every figure of a sub is in the table once, with a title, and no two that people
// see beside each other have one heading.
func TestMeasuresAreNamed(t *testing.T) {
	names, headings := map[string]bool{}, map[string]bool{}
	for _, m := range measures {
		if m.name == "" || m.title == "" || m.of == nil || names[m.name] || headings[m.heading()] {
			t.Errorf("%q, %q: without a name, title or getter, or twice", m.name, m.heading())
		}
		names[m.name], headings[m.heading()] = true, true
	}
}

// inSchema is how descriptions in the schema write units.
var inSchema = map[string]string{"e-/s per px": "e-/s per pixel", "°": "degrees", "″": "arcseconds", "″/px": "Arcseconds per pixel", "mag/arcsec²": "mag per square arcsec"}

// night.schema.json lists the same figures, all of them required, in their units.
func TestSchemaListsMeasures(t *testing.T) {
	var doc struct {
		Defs struct {
			Sub struct {
				Properties struct {
					Measures struct {
						Required   []string
						Properties map[string]struct{ Description string }
					}
				}
			}
		} `json:"$defs"`
	}
	if err := json.Unmarshal(schemaText, &doc); err != nil {
		t.Fatal(err)
	}
	listed := doc.Defs.Sub.Properties.Measures
	names := slices.Sorted(slices.Values(namesOf(measures)))
	if diff := cmp.Diff(names, slices.Sorted(slices.Values(listed.Required))); diff != "" {
		t.Errorf("required (-there +listed):\n%s", diff)
	}
	if len(listed.Properties) != len(names) {
		t.Errorf("%d properties for %d figures", len(listed.Properties), len(names))
	}
	for _, m := range measures {
		unit := strings.ReplaceAll(m.unit, "\u00a0", " ")
		if words := inSchema[unit]; words != "" {
			unit = words
		}
		if text := listed.Properties[m.name].Description; text == "" || !strings.Contains(text, unit) {
			t.Errorf("%s: no %q in its description %q", m.name, unit, text)
		}
	}
}

// README.md lists the columns of subs.csv in their order, and the figures that only
// night.json holds.
func TestReadmeListsMeasures(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	readme := strings.Join(strings.Fields(string(text)), " ")
	for _, want := range []string{
		"`subs.csv`: `" + strings.Join(subsColumns(), ", ") + "`",
		"`night.json` also holds of each sub `" + strings.Join(namesOf(besides), ", ") + "`",
	} {
		if !strings.Contains(readme, want) {
			t.Errorf("README.md lacks\n%s", want)
		}
	}
}

// What the page's scripts call a figure is of the table of measures, and so is what each
// key of a sub holds; scripts name keys alone.
func TestScriptsShowMeasures(t *testing.T) {
	const level = "sky_e_per_s"
	words, subs := pageWords(level), fakeNight(8).Subs
	for key, w := range words {
		if key == "ambient" || key == "focus" {
			continue // of the header
		}
		m := measureAt(key, level)
		if w != (figureWords{m.title, m.unit, m.digits}) {
			t.Errorf("%s: %+v; the table has %+v", key, w, m)
		}
		for _, s := range subs {
			if got, want := ofKey(t, newSubData(s, level), key), real(m.of(s).V); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s of %s: %v, not %v", key, s.File, got, want)
			}
		}
	}
	list := regexp.MustCompile(`(?m)(?:keys: |sentence\(|\.\.\.)\[(.*?)\]|^    \{ key: ("\w+")`)
	for file, want := range map[string]int{"panels": 14, "timeline": 11, "viewer": 12} {
		script, err := os.ReadFile("assets/js/" + file + ".js")
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, found := range list.FindAllSubmatch(script, -1) {
			for _, key := range regexp.MustCompile(`"(\w+)"`).FindAllSubmatch(append(found[1], found[2]...), -1) {
				seen++
				if _, ok := words[string(key[1])]; !ok && string(key[1]) != "time" {
					t.Errorf("%s.js shows %s, which is no figure", file, key[1])
				}
			}
		}
		if seen != want {
			t.Errorf("%s.js shows %d figures, not %d", file, seen, want)
		}
		for _, m := range measures {
			if m.name != "rotation_deg" && bytes.Contains(script, []byte(m.title+", "+m.unit)) {
				t.Errorf("%s.js has a title of its own: %s", file, m.heading())
			}
		}
	}
}

// ofKey is the number under a key of JSON.
func ofKey(t *testing.T, d subData, key string) real {
	t.Helper()
	v := reflect.ValueOf(d)
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("json") == key {
			return v.Field(i).Interface().(real)
		}
	}
	t.Fatalf("no %s in the page's data", key)
	return 0
}

func TestShapeIsOfStars(t *testing.T) {
	shape := stats.Known(20, 1, 3)
	s := &night.Sub{Sub: &subs.Sub{Field: &stars.Field{FWHM: shape, HFD: shape, Ellipticity: shape, Angle: shape, Coherence: shape, Halo: shape}, PixelScale: 1}}
	for _, c := range []struct {
		found subs.Finding
		shown bool
	}{
		{subs.Finding{Cause: subs.NoStars, Verdict: subs.Cull}, false},
		{subs.Finding{Cause: subs.NoStars, Verdict: subs.Doubtful}, true}, // a handful that may be stars
		{subs.Finding{Cause: subs.Soft, Verdict: subs.Cull}, true},
	} {
		s.Findings = []subs.Finding{c.found}
		for _, name := range []string{"fwhm_px", "fwhm_arcsec", "hfd_px", "ellipticity", "elongation_angle_deg", "coherence", "halo_pct"} {
			v := figureOf(s, name)
			if v.OK() != c.shown || !c.shown && v.Why.Code != subs.NotOfStars {
				t.Errorf("%s with %v: %v", name, c.found, v)
			}
		}
	}
}
