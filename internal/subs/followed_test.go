package subs

import (
	"math"
	"testing"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// cometNight follows something along 30°: what its motion adds along that is px² in variance,
// and the field drifts by drift px in an exposure. change acts before the motion does.
func cometNight(target names.Name, px, drift float64, change func(i int, tr *truth)) []*Sub {
	night := makeNight(5, "L", 24, change)
	for i, s := range night {
		s.Target = target
		minutes := 5 * float64(i-12)
		sin, cos := math.Sincos(30 * math.Pi / 180)
		step := drift * minutes * 60 / s.Exposure
		jitter := 3 * math.Sin(float64(7*i*i)) // a dither of 3 px
		s.Align.ShiftX, s.Align.ShiftY = stats.Known(step*cos+jitter, 0.05, 100), stats.Known(step*sin-jitter, 0.05, 100)
		f := s.Field
		across := f.FWHM.V * math.Sqrt(1-f.Ellipticity.V*f.Coherence.V)
		along := math.Sqrt(math.Pow(f.FWHM.V*f.FWHM.V/across, 2) + px*px*8*math.Ln2/12)
		f.FWHM.V, f.Ellipticity.V, f.Angle.V, f.Coherence.V = math.Sqrt(along*across), 1-across/along, 30, 0.98
	}
	return night
}

// Stars as lines are no fault where the mount followed a comet: its name, and a field that drifts
// as the trails lie and as far, tell of it. What is wider or drawn out beyond that is a fault still.
func TestMountFollowsComet(t *testing.T) {
	for _, c := range []struct {
		name    string
		target  names.Name
		px      float64
		drift   float64
		trailed bool
	}{
		{"comet", "C/2025 X1", 7, 7, false}, {"fast", "12P/Somebody", 12, 12, false}, {"slow", "Comet A3", 3.5, 3.5, false},
		{"no comet", "M 33", 7, 7, true}, {"no drift", "C/2025 X1", 7, 0, true}, {"another drift", "C/2025 X1", 7, 25, true},
	} {
		night := cometNight(c.target, c.px, c.drift, func(i int, tr *truth) {
			if i == 15 {
				tr.fwhm *= 1.7
			}
		})
		g := Judge(night, DefaultLimits).Groups[0]
		for i, s := range night {
			switch {
			case i == 15 && !c.trailed && (s.Verdict != Cull || s.Causes[0] != Soft):
				t.Errorf("%s: soft one: %s", c.name, told(s))
			case i != 15 && c.trailed != (s.Verdict != Keep && s.Causes[0] == Trailed):
				t.Errorf("%s: sub %d: %s", c.name, i, told(s))
			}
		}
		if (g.Followed > 0) == c.trailed || g.Followed > 0 && math.Abs(g.Followed-c.drift) > 0.5 {
			t.Errorf("%s: followed over %.1f px", c.name, g.Followed)
		}
	}
}
