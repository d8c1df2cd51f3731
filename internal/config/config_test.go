package config

import (
	"math"
	"strings"
	"testing"
)

type place struct {
	Lat float64 `toml:"lat" with:"lon" min:"-90" max:"90" help:"latitude"`
	Lon float64 `toml:"lon" with:"lat" help:"longitude"`
}

type goal struct {
	Name  string  `toml:"name"`
	Hours float64 `toml:"hours"`
}

type sample struct {
	N      int     `toml:"n" min:"1" max:"9" help:"how many"`
	Inner  inner   `toml:"inner"`
	Place  *place  `toml:"place" help:"Where:"`
	Goals  []goal  `toml:"goals" help:"What for:"`
	Hidden float64 `toml:"-"`
}

type inner struct {
	Share float64 `toml:"share" above:"0" below:"1" help:"a share"`
	On    bool    `toml:"on" help:"a switch"`
}

func valid() sample { return sample{N: 3, Inner: inner{Share: 0.5}} }

func TestListNamesEveryKey(t *testing.T) {
	s := valid()
	var keys []string
	for _, e := range List(&s) {
		keys = append(keys, e.Key)
	}
	if got := strings.Join(keys, " "); got != "n inner.share inner.on" {
		t.Errorf("keys %q", got)
	}
}

func TestCheckHoldsRanges(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*sample)
		key    string // "" where all is well
	}{
		{"as it is", func(*sample) {}, ""},
		{"least", func(s *sample) { s.N = 1 }, ""},
		{"most", func(s *sample) { s.N = 9 }, ""},
		{"too few", func(s *sample) { s.N = 0 }, "n"},
		{"too many", func(s *sample) { s.N = 10 }, "n"},
		{"open end", func(s *sample) { s.Inner.Share = 0 }, "inner.share"},
		{"other open end", func(s *sample) { s.Inner.Share = 1 }, "inner.share"},
		{"no number", func(s *sample) { s.Inner.Share = math.NaN() }, "inner.share"},
		{"behind a pointer", func(s *sample) { s.Place = &place{Lat: 91} }, "place.lat"},
	} {
		s := valid()
		c.change(&s)
		err := Check(&s)
		if c.key == "" && err != nil || c.key != "" && (err == nil || !strings.HasPrefix(err.Error(), c.key+" ")) {
			t.Errorf("%s: %v, want one of %q", c.name, err, c.key)
		}
	}
}

func TestDecodeSaysWhere(t *testing.T) {
	for text, want := range map[string]string{
		"n = 4":                         "",
		"inner.share = 0.2":             "",
		"[place]\nlat = 1\nlon = 2":     "",
		"n = 4.5":                       "line 1: n must be a whole number from 1 to 9",
		"\nn = 12":                      "line 2: n must be a whole number from 1 to 9, not 12",
		"[inner]\n\nshare = 1":          "line 3: inner.share must be a number above 0 and below 1, not 1",
		"[inner]\nshore = 1":            `line 2, column 1: unknown key "inner.shore"`,
		"[place]\nlon = 1":              "line 2: place.lon is of no use without place.lat",
		"[[goals]]\nname = 1":           "line 2: goals.name must be a text in quotes",
		"[[goals]]\nname='a'\nhours=''": "line 3: goals.hours must be a number",
		"inner.on = 1":                  "line 1: inner.on must be true or false",
		"n =":                           "no TOML",
	} {
		s := valid()
		err := Decode([]byte(text), &s, nil)
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestExampleReadsBack(t *testing.T) {
	s := valid()
	var b strings.Builder
	if err := Example(&b, &s); err != nil {
		t.Fatal(err)
	}
	back := sample{Inner: inner{On: true}}
	if err := Decode([]byte(b.String()), &back, nil); err != nil {
		t.Fatalf("%v in\n%s", err, b.String())
	}
	if back.N != s.N || back.Inner != s.Inner || back.Place != nil || back.Goals != nil {
		t.Errorf("read back %+v from\n%s", back, b.String())
	}
	for _, want := range []string{"# Where:\n# [place]\n", "# What for:\n# [[goals]]\n", "# how many (a whole number from 1 to 9)\nn = 3\n"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}
