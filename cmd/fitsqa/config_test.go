package main

import (
	"os"
	"strings"
	"testing"

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
		if err := decodeConfig(text, &s); err != nil {
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
	if err := decodeConfig([]byte(example), &s); err != nil {
		t.Errorf("the README's configuration: %v", err)
	}
	if s.Site == nil || s.Site.Lat != 47.5 || len(s.Plan.Goals) != 1 || len(s.Limits.Overrides) != 1 {
		t.Errorf("the README's configuration was not taken over: %+v", s)
	}
}

func TestConfigErrorsSayWhere(t *testing.T) {
	for text, want := range map[string]string{
		"workers = \"two\"":         "line 1",
		"\n[limits]\nfwhm_cul = 2":  `line 3, column 1: unknown key "limits.fwhm_cul"`,
		"[limits]\nfwhm_cull = -2":  "fwhm_cull",
		"[site]\nlat = 95\nlon = 0": "latitude",
	} {
		s := night.DefaultSettings()
		err := decodeConfig([]byte(text), &s)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want one with %q", text, err, want)
		}
	}
}
