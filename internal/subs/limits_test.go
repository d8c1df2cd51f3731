package subs

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/pelletier/go-toml/v2"
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
		"transparency_cull":           func(l *Limits) { l.TransparencyCull = 0.9 },
		"fwhm_cull":                   func(l *Limits) { l.FWHMCull = 1.1 },
		"positive":                    func(l *Limits) { l.SkyDoubtful = -1 },
		`filter "Ha"`:                 func(l *Limits) { l.Overrides = []Override{{Filter: "Ha", TransparencyCull: &wrong}} },
		"stars_cull is 0: limits are": func(l *Limits) { l.Overrides = []Override{{StarsCull: &zero}} },
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
		target, filter string
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
	got, err := ParseDecisions(strings.NewReader("# mine\n\nkeep lights/M 33 Ha 1.fits\r\n  cull\t Größe.fits  \nkeep \"two\\nlines.fits\"\ncull #1.fits"))
	want := map[string]Verdict{"lights/M 33 Ha 1.fits": Keep, "Größe.fits": Cull, "two\nlines.fits": Keep, "#1.fits": Cull}
	if err != nil || !cmp.Equal(got, want) {
		t.Errorf("%v %v", got, err)
	}
	for text, line := range map[string]int{
		"keep a\nkepe b": 2, "keep": 1, "\n\ncull \"a": 3, "keep a\ncull a": 2, "doubtful a": 1, "keep \"\"": 1,
		"keep a\n" + strings.Repeat("x", maxDecisionLine+1): 2,
	} {
		_, err := ParseDecisions(strings.NewReader(text))
		if located, ok := err.(*DecisionError); !ok || located.Line != line {
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
			if _, ok := err.(*DecisionError); !ok {
				t.Errorf("not located: %v", err)
			}
			return
		}
		for name, v := range got {
			if name == "" || v != Keep && v != Cull {
				t.Errorf("%q: %q", name, v)
			}
		}
	})
}

func TestApplyDecisionsByBaseName(t *testing.T) {
	all := []*Sub{{File: "one/a.fits"}, {File: "two/a.fits"}, {File: "two/b.fits"}}
	left := ApplyDecisions(all, map[string]Verdict{"a.fits": Cull, "b.fits": Keep, "one/a.fits": Keep})
	if !cmp.Equal(left, []string{"a.fits"}) || all[0].Decision != Keep || all[1].Decision != "" || all[2].Decision != Keep {
		t.Errorf("left %q, decisions %q %q %q", left, all[0].Decision, all[1].Decision, all[2].Decision)
	}
}
