package say

import (
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

func TestSentencesOfFit(t *testing.T) {
	warmer := []calib.Mismatch{{Property: calib.OfExposure, Frames: "60 s", Subs: "120 s"}, {Property: calib.OfRotation, Frames: "rotator at 45°", Subs: "200°"}}
	for want, m := range map[string]calib.Fit{
		"none applied, the subs were calibrated or aligned before": {Kind: frames.Dark, Processed: true},
		"no usable bias frames: every pixel has the same value":    {Kind: frames.Bias, Unusable: fact.Of("every pixel has the same value")},
		"no flats":                {Kind: frames.Flat},
		"20 darks fit":            {Kind: frames.Dark, Frames: 20, Fits: true},
		"1 bias frame fits":       {Kind: frames.Bias, Frames: 1, Fits: true},
		"12 of 14 darks fit":      {Kind: frames.Dark, Frames: 14, Count: 12, Fits: true},
		"1 of 3 bias frames fits": {Kind: frames.Bias, Frames: 3, Count: 1, Fits: true},
		"1 flat (whether raw or a master is not known) fits":                                        {Kind: frames.Flat, Frames: 1, Unsure: true, Count: -1, Fits: true},
		"a master dark of 24 frames fits":                                                           {Kind: frames.Dark, Frames: 1, Master: true, Count: 24, Fits: true},
		"a master flat (of how many frames is not known) fits":                                      {Kind: frames.Flat, Frames: 1, Master: true, Count: -1, Fits: true},
		"4 flats fit as far as the headers tell (gain, rotation unknown)":                           {Kind: frames.Flat, Frames: 4, Fits: true, Unknown: []calib.Property{calib.OfGain, calib.OfRotation}},
		"5 darks, not matching: exposure 60 s, subs 120 s; rotator at 45°, subs at 200°":            {Kind: frames.Dark, Frames: 5, Mismatches: warmer},
		"5 darks, not matching: exposure 60 s, subs 120 s, to which bias frames let them be scaled": {Kind: frames.Dark, Frames: 5, Mismatches: warmer[:1]},
		"12 flats, not matching: gain 100, subs 0, but the light falls alike: they serve":           {Kind: frames.Flat, Frames: 12, Mismatches: []calib.Mismatch{{Property: calib.OfGain, Frames: "100", Subs: "0"}}},
	} {
		if got := Fit(&m); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
