package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
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

// The page's panels call its figures and round them as the table does: a key of theirs
// is one of subData, filled from the figure of one name.
func TestPanelsAreMeasures(t *testing.T) {
	script, err := os.ReadFile("assets/js/panels.js")
	if err != nil {
		t.Fatal(err)
	}
	r := fakeNight(8)
	name := map[string]string{"airmass": "airmass", "moonAlt": "moon_alt_deg", "sunAlt": "sun_alt_deg"}
	for _, f := range figureKeys {
		name[f.key] = f.name
	}
	seen := 0
	for _, line := range regexp.MustCompile(`(?m)^    (\w+): \{ name: "(.*)", decimals: (\d) \}`).FindAllSubmatch(script, -1) {
		key, heading, digits := string(line[1]), line[2], string(line[3])
		if name[key] == "" {
			continue // of the header
		}
		seen++
		m := measureOf(name[key])
		if !bytes.EqualFold(heading, []byte(m.heading())) || digits != strconv.Itoa(m.digits) {
			t.Errorf("%s: %q with %s decimals; the table has %q with %d", key, heading, digits, m.heading(), m.digits)
		}
		for _, s := range r.Subs {
			if got, want := ofKey(t, newSubData(s, "sky_e_per_s"), key), real(m.of(s).V); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s of %s: %v, not %v", key, s.File, got, want)
			}
		}
	}
	if seen != len(name) {
		t.Errorf("%d figures in the panels, %d in the table", seen, len(name))
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
