package subs

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// lightUpParts gives a sub the level and the noise of its parts where so many of the
// columns, from the right, are so many times as bright as the others.
func lightUpParts(s *Sub, columns int, times, all float64) {
	s.Field.SkyParts, s.Field.NoiseParts = nil, nil
	part := func(k, side int) float64 {
		if k%side >= side-columns*side/stars.Parts {
			return times
		}
		return all
	}
	for k := range stars.SkyParts * stars.SkyParts {
		s.Field.SkyParts = append(s.Field.SkyParts, s.SkyADU.V*part(k, stars.SkyParts))
	}
	for k := range stars.Parts * stars.Parts {
		s.Field.NoiseParts = append(s.Field.NoiseParts, s.RandomNoise.V*math.Sqrt(part(k, stars.Parts)))
	}
	// more than half of the field is lit
	s.SkyADU.V *= times
	s.RandomNoise.V *= math.Sqrt(times)
}

// A roof under a street lamp hides the stars of three quarters of the field and is brighter
// than the sky, in the last subs all of it: no cloud, which would brighten all of a narrow
// field within an exposure. Truth is what each sub was made with.
func TestLitCoverIsNoCloud(t *testing.T) {
	for _, c := range []struct {
		name       string
		all, scale float64 // sky beside it, arcsec/px
		calibrated bool
		cause      Cause
	}{
		{"a lit roof", 1, 1, true, Obstructed},
		{"a lit roof, the offset in the level", 1, 1, false, Obstructed},
		{"cloud that hides most stars and lights up all of the field", 1.6, 1, true, Cloud},
		{"a field too wide for a cloud to cross", 1, 60, true, Cloud},
		{"parts that scatter so much that some seem darker than clear", 0.8, 1, true, Cloud},
	} {
		night := makeNight(12, "L", 20, nil)
		for i, s := range night {
			s.PixelScale, s.Calibrated = c.scale, c.calibrated
			s.Field.Width, s.Field.Height = 3000, 2000
			lit := s.RandomNoise.V
			switch {
			case i < 15:
				lightUpParts(s, 0, 1, 1)
			case i < 18:
				lightUpParts(s, 3, 1.6, c.all)
				s.Transparency.Ratio.V, s.Transparency.Covered = 0.25, stats.Known(0.74, 0.02, 100)
				s.Transparency.Unevenness = stats.Known(43, 2, 16)
				s.Transparency.Depth = stats.Known(0.25/(lit*lit), math.NaN(), 16)
			default:
				lightUpParts(s, 4, 1.6, 1.6)
				s.Field.Count, s.Transparency.Ratio, s.Transparency.Covered = 0, stats.Missing("no stars"), stats.Missing("no stars")
			}
		}
		Judge(night, DefaultLimits)
		for _, s := range night[15:] {
			if s.Verdict != Cull || s.Causes[0] != c.cause {
				t.Errorf("%s: %s %s %v, want %s: %s", c.name, s.File, s.Verdict, s.Causes, c.cause, told(s))
			}
		}
	}
}

// A roof with a soft edge closes: of the last subs hardly a corner is clear, and what is left of
// their light is uneven, as under cloud. The subs before tell. Truth is what each sub was made with.
func TestClosingCover(t *testing.T) {
	for _, c := range []struct {
		before float64 // covered share of the subs before
		cause  Cause
	}{{0.45, Obstructed}, {0, Cloud}} {
		night := makeNight(5, "L", 20, nil)
		for i, s := range night[14:] {
			clear, left := s.RandomNoise.V, 1-c.before
			if i < 3 {
				s.Transparency.Covered = stats.Known(c.before, 0.02, 100)
			} else {
				left = 0.5 - 0.08*float64(i)
				s.Transparency.Covered = stats.Known(0.55, 0.03, 100)
			}
			s.Transparency.Ratio.V *= left
			s.Transparency.Unevenness = stats.Known(100*math.Sqrt(left*(1-left)), 3, 16)
			s.Transparency.Depth = stats.Known(left/(clear*clear), math.NaN(), 16)
		}
		Judge(night, DefaultLimits)
		for _, s := range night[17:] {
			if s.Verdict != Cull || s.Causes[0] != c.cause {
				t.Errorf("%g before: %s %s %v, want %s: %s", c.before, s.File, s.Verdict, s.Causes, c.cause, told(s))
			}
		}
	}
}

// What a lit roof adds to the sky is the roof's: it leads, whatever the light alone would
// weigh, with the verdict of both.
func TestLightOnCoverIsTheCovers(t *testing.T) {
	night := makeNight(12, "L", 20, nil)
	for i, s := range night {
		s.PixelScale, s.Calibrated = 1, true
		s.Field.Width, s.Field.Height = 3000, 2000
		if lightUpParts(s, 0, 1, 1); between(i, 10, 13) {
			lit := s.RandomNoise.V
			lightUpParts(s, 1, 9, 1)
			s.Transparency.Ratio.V, s.Transparency.Covered = 0.85, stats.Known(0.15, 0.01, 100)
			s.Transparency.Depth = stats.Known(0.1/(lit*lit), math.NaN(), 16)
		}
	}
	Judge(night, DefaultLimits)
	for _, s := range night[10:13] {
		if s.Verdict != Cull || s.Causes[0] != Obstructed || len(s.Causes) > 1 {
			t.Errorf("%s %v %v: %s", s.File, s.Verdict, s.Causes, told(s))
		}
	}
}
