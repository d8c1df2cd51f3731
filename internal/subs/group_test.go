package subs

import (
	"math"
	"strings"
	"testing"
)

func TestGroups(t *testing.T) {
	night := makeNight(11, "R", 8, nil)
	night[1].Exposure = 302 // within 1 %
	night[2].Exposure, night[2].Stack = 310, 1
	night[4].GainSetting, night[4].Stack = 0, 2
	night[5].GainSetting, night[5].Stack = math.NaN(), 3
	night[6].Target, night[6].Stack = "", 4
	night[7].Width, night[7].Field, night[7].ReadErr = 0, nil, "malformed"
	var got []string
	for _, g := range group(night) {
		got = append(got, g.Label+": "+string(rune('0'+len(g.Subs))))
	}
	want := "M 33 R 300 s gain 100: 4|M 33 R 310 s gain 100: 1|M 33 R 300 s gain 0: 1|M 33 R 300 s: 1|unknown target R 300 s gain 100: 1"
	if strings.Join(got, "|") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "|"), want)
	}
}

// Groups of one target, filter and exposure are told by what they differ in, and by no
// more; one with hardly any of the time is minor.
func TestGroupsToldApart(t *testing.T) {
	night := makeNight(11, "R", 40, nil)
	for i, s := range night {
		switch {
		case i < 4:
			s.GainSetting, s.Stack = 0, 1
		case i < 8:
			s.Camera, s.Width, s.Stack = "Other", 800, 2
		case i < 16:
			s.Exposure, s.Stack = 2, 3
		}
	}
	var got []string
	for _, g := range group(night) {
		part := g.Apart
		if g.Minor {
			part += "minor"
		}
		got = append(got, part)
	}
	if want := "Testcam gain 0|Other gain 100|minor|Testcam gain 100"; strings.Join(got, "|") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "|"), want)
	}
}
