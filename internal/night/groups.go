package night

import (
	"math"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// judgedGroup is a group of judged subs together with the frames that they
// are and the calibration that fits them.
type judgedGroup struct {
	*subs.Group
	all         []*Sub // of Group.Subs, those that are corrected alike
	lights      *frames.Group
	coverage    *calib.Coverage
	calibration calib.Calibration
	skyRate     stats.Value // e-/s per pixel, median of the subs that are not culled
	ditherPx    float64     // px rms, NaN when not measured
}

// judgedGroups pairs every judged group that has a readable sub with its frames.
func (r *Result) judgedGroups() []judgedGroup {
	whole := map[*subs.Sub]*Sub{}
	for _, s := range r.Subs {
		whole[s.Sub] = s
	}
	coverage := map[*frames.Frame]*calib.Coverage{}
	for i := range r.Calib.Coverage {
		c := &r.Calib.Coverage[i]
		for _, f := range c.Lights.Frames {
			coverage[f] = c
		}
	}
	var groups []judgedGroup
	for _, g := range r.Verdicts.Groups {
		var covered *calib.Coverage
		for _, s := range g.Subs {
			c := coverage[whole[s].Frame]
			// Subs stacked together may be of several rotations of the camera:
			// the one that has no flat is what there is something to do about.
			if c != nil && (covered == nil || covered.Flat.Fits && !c.Flat.Fits) {
				covered = c
			}
		}
		if covered != nil {
			var same []*Sub
			for _, s := range g.Subs {
				if coverage[whole[s].Frame] == covered {
					same = append(same, whole[s])
				}
			}
			groups = append(groups, judgedGroup{g, same, covered.Lights, covered, r.Calib.For(covered.Lights), medianSkyRate(g.Subs), motionOf(g.Subs).Dither.V})
		}
	}
	return groups
}

func medianSkyRate(all []*subs.Sub) stats.Value {
	var rates []float64
	under := stats.Missing(NoSkyLevel)
	for _, s := range all {
		switch {
		case !s.Verdict.Usable():
		case s.SkyRate.OK():
			rates = append(rates, s.SkyRate.V)
		case s.SkyRate.Why.Code == SkyBelowOffset:
			under = s.SkyRate
		}
	}
	if len(rates) == 0 {
		return under
	}
	spread := stats.MADSigma(rates) / math.Sqrt(float64(len(rates)))
	return stats.Known(stats.Median(rates), stats.MedianErr*spread, len(rates))
}

// places are where the subs that will be stacked lie on each other.
func (g judgedGroup) places() []worth.Place {
	var all []worth.Place
	for _, s := range g.Subs {
		if s.Verdict.Usable() && s.Align.Matched() {
			all = append(all, worth.Place(s.Align.Transform))
		}
	}
	return all
}

// setOf is the measured set of a group of calibration frames, nil when there is none.
func (r *Result) setOf(g *frames.Group) *sensor.Set {
	for _, s := range r.Calib.Sets {
		if g != nil && s.Group == g {
			return s
		}
	}
	return nil
}
