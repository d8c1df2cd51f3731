package night

import (
	"fitsqa/internal/calib"
	"fitsqa/internal/subs"
)

// weighCalibration asks for every judged group of subs whether darks, bias
// frames and flats are worth it.
func (r *Result) weighCalibration(groups []judgedGroup) {
	for _, g := range groups {
		in := calib.WorthInput{
			Label: g.Label, Subs: usable(g.Subs), Exposure: g.Exposure,
			SkyRate: g.skyRate, ReadNoise: g.calibration.ReadNoise, DarkRate: g.calibration.DarkRate,
			Dark: r.Calib.DarkSetFor(g.lights), Bias: r.Calib.BiasSetFor(g.lights), Flat: r.Calib.FlatSetFor(g.lights),
			DarkFits: g.coverage.Dark.Fits, DitherPx: g.ditherPx,
		}
		r.Worth = append(r.Worth, calib.DarksWorth(in))
		r.MasterWorth = append(r.MasterWorth, calib.BiasWorth(in), calib.FlatsWorth(in))
	}
	r.Calib.NoteDarkBenefit(r.Worth)
}

// usable counts the subs that are not culled.
func usable(all []*subs.Sub) int {
	n := 0
	for _, s := range all {
		if s.Verdict != subs.Cull {
			n++
		}
	}
	return n
}
