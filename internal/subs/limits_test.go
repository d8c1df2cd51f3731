package subs

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/pelletier/go-toml/v2"

	"fitsqa/internal/names"
)

func TestPresetsMakeSense(t *testing.T) {
	for name, l := range map[string]Limits{"default": DefaultLimits, "strict": Strict(), "lenient": Lenient()} {
		if err := l.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// On any night strict culls what the default culls, and the default what
// lenient culls.
func TestPresetsAreOrdered(t *testing.T) {
	strict, normal, lenient := reflect.ValueOf(Strict()), reflect.ValueOf(DefaultLimits), reflect.ValueOf(Lenient())
	for i := range normal.NumField() {
		f := normal.Type().Field(i)
		if f.Type.Kind() != reflect.Float64 || f.Name == "CoherenceMin" {
			continue
		}
		s, n, l := strict.Field(i).Float(), normal.Field(i).Float(), lenient.Field(i).Float()
		if strings.HasPrefix(f.Name, "Transparency") || strings.HasPrefix(f.Name, "Stars") { // less is worse
			s, l = l, s
		}
		if !(s <= n && n <= l) || s == l {
			t.Errorf("%s: strict %v, default %v, lenient %v", f.Name, strict.Field(i), n, lenient.Field(i))
		}
	}
}

func TestCheckRefuses(t *testing.T) {
	wrong, zero := 0.9, 0.0
	for name, spoil := range map[string]func(*Limits){
		"transparency_cull": func(l *Limits) { l.TransparencyCull = 0.9 },
		"fwhm_cull":         func(l *Limits) { l.FWHMCull = 1.1 },
		"limits.sky_doubtful must be a number above 0": func(l *Limits) { l.SkyDoubtful = -1 },
		`filter "Ha"`: func(l *Limits) { l.Overrides = []Override{{Filter: "Ha", TransparencyCull: &wrong}} },
		"limits.stars_cull must be a number above 0": func(l *Limits) { l.Overrides = []Override{{StarsCull: &zero}} },
	} {
		l := DefaultLimits
		spoil(&l)
		if err := l.Check(); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%v does not name %s", err, name)
		}
	}
}

// Every limit can be overridden, under the same key, and has a flag's help.
func TestOverrideHasEveryLimit(t *testing.T) {
	limits, over := reflect.TypeFor[Limits](), reflect.TypeFor[Override]()
	n := 0
	for i := range limits.NumField() {
		f := limits.Field(i)
		if f.Type.Kind() != reflect.Float64 {
			continue
		}
		n++
		o, ok := over.FieldByName(f.Name)
		if !ok || o.Tag.Get("toml") != f.Tag.Get("toml") || o.Type != reflect.PointerTo(f.Type) {
			t.Errorf("%s cannot be overridden: %v", f.Name, o)
		}
		if f.Tag.Get("toml") == "" || f.Tag.Get("help") == "" {
			t.Errorf("%s: key %q, help %q", f.Name, f.Tag.Get("toml"), f.Tag.Get("help"))
		}
	}
	if want := over.NumField() - 2; n != want {
		t.Errorf("%d limits, %d that can be overridden", n, want)
	}
}

func TestLimitsFromTOML(t *testing.T) {
	text := `
fwhm_cull = 1.7
[[override]]
filter = "Ha"
sky_doubtful = 3.0
sky_cull = 5
[[override]]
target = "M 33"
filter = "ha"
fwhm_cull = 2
`
	l := DefaultLimits
	d := toml.NewDecoder(strings.NewReader(text)).DisallowUnknownFields()
	if err := d.Decode(&l); err != nil {
		t.Fatal(err)
	}
	if err := l.Check(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		target, filter names.Name
		fwhm, sky      float64
	}{
		{"M 31", "R", 1.7, DefaultLimits.SkyCull},
		{"M 31", "Ha", 1.7, 5},
		{"m 33 ", "HA", 2, 5},
		{"M 33", "R", 1.7, DefaultLimits.SkyCull},
	} {
		if got := l.For(c.target, c.filter); got.FWHMCull != c.fwhm || got.SkyCull != c.sky {
			t.Errorf("%s %s: FWHM %v sky %v, want %v %v", c.target, c.filter, got.FWHMCull, got.SkyCull, c.fwhm, c.sky)
		}
	}
	for _, bad := range []string{"fwhm_kull = 1", "[[override]]\nfwhm_kull = 1", "[[override]]\nfilters = 'Ha'"} {
		l := DefaultLimits
		if err := toml.NewDecoder(strings.NewReader(bad)).DisallowUnknownFields().Decode(&l); err == nil {
			t.Errorf("accepted %q", bad)
		}
	}
}

func TestParseDecisions(t *testing.T) {
	const content = "3d5f08b1f2a94c7790d3a1b26e0c4f58"
	got, err := ParseDecisions(strings.NewReader("# mine\n\nkeep lights/M 33 Ha 1.fits\r\n  cull\t Größe.fits  \nkeep \"two\\nlines.fits\"\ncull #1.fits\ncull content:" + content + " a.fits\nkeep a.fits"))
	want := []Decision{{Keep, "lights/M 33 Ha 1.fits", ""}, {Cull, "Größe.fits", ""}, {Keep, "two\nlines.fits", ""}, {Cull, "#1.fits", ""}, {Cull, "a.fits", content}, {Keep, "a.fits", ""}}
	if err != nil || !cmp.Equal(got, want) {
		t.Errorf("%v %v", got, err)
	}
	for text, line := range map[string]int{
		"keep a\nkepe b": 2, "keep": 1, "\n\ncull \"a": 3, "keep a\ncull a": 2, "doubtful a": 1, "keep \"\"": 1, "keep content:12 a": 1, "keep content:" + content: 1,
		"keep content:" + content + " a\ncull content:" + content + " b": 2,
		"keep a\n" + strings.Repeat("x", maxDecisionLine+1):              2,
	} {
		_, err := ParseDecisions(strings.NewReader(text))
		if located, ok := err.(*decisionError); !ok || located.Line != line {
			t.Errorf("%.40q: %v, want line %d", text, err, line)
		}
	}
}

func FuzzParseDecisions(f *testing.F) {
	f.Add([]byte("# mine\nkeep a b.fits\ncull \"two\\nlines.fits\"\n"))
	f.Add([]byte("keep\x00\xff\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := ParseDecisions(bytes.NewReader(data))
		if err != nil {
			if _, ok := err.(*decisionError); !ok {
				t.Errorf("not located: %v", err)
			}
			return
		}
		for _, d := range got {
			if d.Name == "" || d.Verdict != Keep && d.Verdict != Cull {
				t.Errorf("%+v", d)
			}
			if again, err := ParseDecisions(strings.NewReader(d.String())); err != nil || len(again) != 1 || again[0] != d {
				t.Errorf("%+v is written as %q and read back as %+v, %v", d, d.String(), again, err)
			}
		}
	})
}

func TestApplyDecisionsByBaseName(t *testing.T) {
	all := []*Sub{{File: "one/a.fits"}, {File: "two/a.fits"}, {File: "two/b.fits"}}
	left := ApplyDecisions(all, []Decision{{Cull, "a.fits", ""}, {Keep, "b.fits", ""}, {Keep, "one/a.fits", ""}}, nil)
	if !cmp.Equal(left, []string{"a.fits"}) || all[0].Decision != Keep || all[1].Decision != "" || all[2].Decision != Keep {
		t.Errorf("left %q, decisions %q %q %q", left, all[0].Decision, all[1].Decision, all[2].Decision)
	}
}

// A decision follows what the file holds: through a new name, and not to another
// file that has its old one. Contents are asked for only where they are needed.
func TestMatchDecisionsByContent(t *testing.T) {
	a, b, c := strings.Repeat("a", 32), strings.Repeat("b", 32), strings.Repeat("c", 32)
	contents := []string{a, b, ""} // the last cannot be read
	asked := 0
	content := func(i int) string { asked++; return contents[i] }
	names := []string{"one.fits", "two.fits", "three.fits"}
	of, left := MatchDecisions([]Decision{{Keep, "two.fits", ""}, {Cull, "one.fits", b}, {Keep, "gone.fits", c}}, names, content)
	if !cmp.Equal(of, []Verdict{"", Cull, ""}) || !cmp.Equal(left, []Decision{{Keep, "gone.fits", c}}) {
		t.Errorf("decided %q, left %v", of, left)
	}
	if asked > len(names) {
		t.Errorf("asked %d times for the contents of %d files", asked, len(names))
	}
	asked = 0
	if of, _ := MatchDecisions([]Decision{{Cull, "one.fits", a}, {Keep, "two.fits", ""}}, names, content); of[0] != Cull || asked != 1 {
		t.Errorf("decided %q after asking %d times", of, asked)
	}
}
