package night

import (
	"fitsqa/internal/calib"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// weighCalibration asks for every judged group of subs whether darks, bias
// frames and flats are worth it.
func (r *Result) weighCalibration(groups []judgedGroup) {
	for _, g := range groups {
		in := worth.Input{
			Label: g.Label, Camera: calib.ModeOf(g.lights), Subs: usable(g.Subs), Exposure: g.Exposure,
			SkyRate: g.skyRate, ReadNoise: g.calibration.ReadNoise, DarkRate: g.calibration.DarkRate,
			Dark: r.Calib.DarkSetFor(g.lights), Bias: r.Calib.BiasSetFor(g.lights), Flat: r.Calib.FlatSetFor(g.lights),
			DarkFits: g.coverage.Dark.Fits, DitherPx: g.ditherPx,
		}
		r.Worth = append(r.Worth, worth.OfDarks(in))
		r.MasterWorth = append(r.MasterWorth, worth.OfBias(in), worth.OfFlats(in))
	}
	worth.NoteBenefits(r.Calib.Sets, r.Worth)
}

// usable counts the subs that are not culled.
func usable(all []*subs.Sub) int {
	n := 0
	for _, s := range all {
		if s.Verdict.Usable() {
			n++
		}
	}
	return n
}
