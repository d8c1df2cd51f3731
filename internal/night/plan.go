package night

import (
	"math"

	"fitsqa/internal/plan"
)

// makePlan turns the judged groups, weighed before in the same order, into advice.
func (r *Result) makePlan(groups []judgedGroup) {
	in := plan.Input{Site: r.NightSite(), Earlier: r.Settings.Earlier, EarlierUnknown: r.Settings.NoLedger}
	for i, g := range groups {
		first := g.lights.Frames[0].Meta
		pg := plan.Group{
			Group: g.Group, Calibration: g.calibration, Coverage: g.coverage,
			Offset: math.NaN(), FlatLevel: math.NaN(), DitherPx: g.ditherPx,
			Aperture: first.Aperture, ZeroPoint: first.SkyZeroPoint,
			Worth: &r.Worth[i], Bias: r.MasterWorth[2*i], Flats: r.MasterWorth[2*i+1],
		}
		if bias := r.setOf(g.coverage.Bias.Group); bias != nil {
			pg.Offset = bias.Bias.Offset.V
		}
		if flat := r.setOf(g.coverage.Flat.Group); flat != nil {
			pg.FlatLevel = flat.Flat.Level.V * g.calibration.Saturation * g.calibration.Gain.V
		}
		in.Groups = append(in.Groups, pg)
	}
	r.Plan = plan.Make(in, r.Settings.Plan)
}
