package night

import "fitsqa/internal/calib"

// weighDarks asks for every judged group of subs whether darks are worth it,
// and whether bias frames and flats are enough.
func (r *Result) weighDarks() {
	for _, g := range r.judgedGroups() {
		in := calib.WorthInput{
			Label: g.Label, Subs: usable(g.Subs), Exposure: g.Exposure,
			SkyRate: g.skyRate, ReadNoise: g.calibration.ReadNoise, DarkRate: g.calibration.DarkRate,
			Dark: r.Calib.DarkSetFor(g.lights), DitherPx: ditherPx(g.Subs), DarkFits: g.coverage.Dark.Fits,
		}
		if g.coverage.Bias.Fits {
			in.Bias = r.setOf(g.coverage.Bias.Group)
		}
		if g.coverage.Flat.Fits {
			in.Flat = r.setOf(g.coverage.Flat.Group)
		}
		r.Worth = append(r.Worth, calib.DarksWorth(in))
		r.BiasWorth = append(r.BiasWorth, calib.BiasWorth(in))
		r.FlatsWorth = append(r.FlatsWorth, calib.FlatsWorth(in))
	}
}
