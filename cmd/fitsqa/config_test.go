package main

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"fitsqa/internal/config"
	"fitsqa/internal/night"
)

// Whatever a configuration file holds, it either gives settings that pass
// their own checks, or an error.
func FuzzConfig(f *testing.F) {
	f.Add([]byte("workers = 3\n[limits]\nfwhm_cull = 1.4\n[[limits.override]]\nfilter = \"Ha\"\n"))
	f.Add([]byte("[[plan.goals]]\ntarget = \"a\"\nfilter = \"b\"\nhours = 1\n"))
	f.Add([]byte("workers = [1"))
	f.Add([]byte("[site]\nlat = nan\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s := night.DefaultSettings()
		if err := config.Decode(text, &s, s.Consistent); err != nil {
			return
		}
		if err := s.Validate(); err != nil {
			t.Errorf("accepted settings that do not pass: %v", err)
		}
	})
}

// The README's example must be accepted as it stands.
func TestReadmeConfig(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, example, ok := strings.Cut(string(text), "```toml\n")
	if !ok {
		t.Fatal("the README shows no configuration")
	}
	example, _, _ = strings.Cut(example, "```")
	s := night.DefaultSettings()
	if err := config.Decode([]byte(example), &s, s.Consistent); err != nil {
		t.Errorf("the README's configuration: %v", err)
	}
	if s.Site == nil || s.Site.Lat != 47.5 || len(s.Plan.Goals) != 1 || len(s.Limits.Overrides) != 1 {
		t.Errorf("the README's configuration was not taken over: %+v", s)
	}
}

func TestConfigErrorsSayWhere(t *testing.T) {
	for text, want := range map[string]string{
		"workers = \"two\"":                          "line 1: workers must be a whole number from 1 to 256",
		"workers = 2.5":                              "line 1: workers must be a whole number",
		"\n[limits]\nfwhm_cul = 2":                   `line 3, column 1: unknown key "limits.fwhm_cul"`,
		"[limits]\nfwhm_cull = -2":                   "line 2: limits.fwhm_cull must be a number above 0, not -2",
		"\n\n[limits]\nfwhm_cull = 1.1":              "line 4: limits.fwhm_cull 1.1 is on the good side of fwhm_doubtful 1.25",
		"[site]\nlat = 95\nlon = 0":                  "line 2: site.lat must be a number from -90 to 90, not 95",
		"[site]\nlat = 50":                           "line 2: site.lat is of no use without site.lon",
		"site.lon = 5":                               "line 1: site.lon is of no use without site.lat",
		"[[plan.goals]]\ntarget = \"a\"\nfilter = 3": "line 3: plan.goals.filter must be a text in quotes",
		"workers = [1":                               "no TOML",
	} {
		s := night.DefaultSettings()
		err := config.Decode([]byte(text), &s, s.Consistent)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want one with %q", text, err, want)
			continue
		}
		if strings.Contains(err.Error(), "night.") || strings.Contains(err.Error(), "float64") || strings.Contains(err.Error(), "Settings") {
			t.Errorf("%q: the error %q names a type of the program", text, err)
		}
	}
}

// The example is the defaults: read back it changes nothing, and every key of
// the settings stands in it.
func TestExampleIsTheDefaults(t *testing.T) {
	code, example, stderr := call(t, "settings")
	if code != exitDone {
		t.Fatal(code, stderr)
	}
	s := night.DefaultSettings()
	s.Workers, s.Stars.Threshold, s.Limits.FWHMCull, s.Plan.MaxExposure = 9, 9, 9, 9
	if err := config.Decode([]byte(example), &s, s.Consistent); err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if err := config.Example(&again, &s); err != nil {
		t.Fatal(err)
	}
	if again.String() != example {
		t.Error("read back, the example is other settings")
	}
	for _, e := range config.List(&s) {
		if e.Help == "" || !strings.Contains(example, e.Key[strings.LastIndex(e.Key, ".")+1:]+" = ") {
			t.Errorf("%s has no help, or is not in the example", e.Key)
		}
	}
	for line := range strings.Lines(example) {
		if len([]rune(line)) > 80 {
			t.Errorf("a line of %d columns: %s", len([]rune(line)), line)
		}
	}
}

// Comments of the example, taken away, are settings too.
func TestExampleTablesAreKnown(t *testing.T) {
	_, example, _ := call(t, "settings")
	var text strings.Builder
	for line := range strings.Lines(example) {
		rest, isComment := strings.CutPrefix(line, "# ")
		if isComment && (strings.HasPrefix(rest, "[") || strings.Contains(rest, " = ") && !strings.Contains(rest, "(")) {
			text.WriteString(rest)
		}
	}
	s := night.DefaultSettings()
	if err := config.Decode([]byte(text.String()), &s, nil); err != nil {
		t.Errorf("%v in\n%s", err, text.String())
	}
	if len(s.Plan.Goals) != 1 || len(s.Plan.Filters) != 1 || len(s.Limits.Overrides) != 1 || s.Site == nil {
		t.Errorf("the example misses a table: %s", text.String())
	}
}
