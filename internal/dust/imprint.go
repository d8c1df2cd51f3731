package dust

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// imprint is a shadow of the flat that the subs do not have there.
type imprint struct {
	window
	at    int  // index in Match.Shadows
	large bool // found by its amplitude, not by an edge that is left
}

// elsewhere is what noise and the structure of the sky feign: the same fit at
// places where the flat has no shadow. The places nearest by count for
// themselves: a nebula may fill only a part of the frame.
func (r *residue) elsewhere(w *window, all []Shadow) (sigma, power, powerSigma float64, ok bool) {
	const nearest, most = 16, 96
	stride := max(1, int(w.radius))
	var amplitudes, powers []float64
	// Squares around the shadow, ever wider: the nearest places come first.
	for ring := 1; ring*stride < max(r.Width, r.Height) && len(amplitudes) < most; ring++ {
		for dj := -ring; dj <= ring; dj++ {
			for di := -ring; di <= ring; di++ {
				i, j := w.i+di*stride, w.j+dj*stride
				if max(di, -di, dj, -dj) != ring || !r.Inside(i, j) || r.overlaps(w, i, j, all) {
					continue
				}
				if a, rest, ok := w.look(r.Map, i, j); ok {
					amplitudes = append(amplitudes, a)
					powers = append(powers, w.power(rest))
				}
			}
		}
	}
	if len(amplitudes) < nearest {
		return 0, 0, 0, false
	}
	scatter := func(x []float64) float64 { // about 0, the amplitude of no shadow
		off := make([]float64, len(x))
		for i, v := range x {
			off[i] = math.Abs(v)
		}
		return stats.MADToSigma * stats.MedianInPlace(off)
	}
	sigma = max(scatter(amplitudes), scatter(amplitudes[:nearest]))
	power = max(stats.Median(powers), stats.Median(powers[:nearest]))
	powerSigma = max(stats.MADSigma(powers), stats.MADSigma(powers[:nearest]))
	return sigma, power, powerSigma, true
}

func (r *residue) overlaps(w *window, i, j int, all []Shadow) bool {
	x, y := r.Centre(i, j)
	for _, s := range all {
		if math.Hypot(x-s.X, y-s.Y) < w.reach*float64(r.Step)+0.6*s.Diameter {
			return true
		}
	}
	return false
}

// judge tells whether the subs have one shadow of the flat; the imprint is nil
// unless it does not match.
func (r *residue) judge(s Shadow, all []Shadow) (ShadowMatch, *imprint) {
	m := ShadowMatch{Shadow: s, State: ShadowUnknown, MovedX: math.NaN(), MovedY: math.NaN()}
	cannot := func(why fact.Code, values ...fact.Value) (ShadowMatch, *imprint) {
		m.Why = fact.Of(why, values...)
		if !m.Imprint.OK() || m.Imprint.N == 0 {
			m.Imprint, m.ResiduePct = stats.Because(m.Why), stats.Because(m.Why)
		}
		return m, nil
	}
	w, ok := newWindow(r.flat, s, all)
	if !ok {
		return cannot(ShadowCut)
	}
	noise := w.noiseShare(r.flatNoise)
	if noise > noisiest {
		return cannot(FlatNoisy)
	}
	amplitude, rest, ok := w.look(r.Map, w.i, w.j)
	if !ok {
		return cannot(ShadowCovered)
	}
	sigma, power, powerSigma, ok := r.elsewhere(&w, all)
	if !ok {
		return cannot(FewFree)
	}
	// The flat's noise is in the shape and, by the division, in the subs: alone it
	// would pass for that share of the shadow. It takes from the shape as much.
	amplitude, sigma = (amplitude-noise)/(1-noise), sigma/(1-noise)
	m.Imprint = stats.Known(amplitude, sigma, len(r.subs))
	excess := w.power(rest) - power
	depth := s.DepthPct / (1 - s.DepthPct/100) // over what the flat lets through
	m.ResiduePct = stats.Known(depth*max(math.Abs(amplitude), min(1, math.Sqrt(max(0, excess)))), depth*sigma, len(r.subs))
	if sigma > finestTold {
		return cannot(ShadowFaint, fact.Number("shadow_pct", s.DepthPct), fact.Number("noise_pct", sigma*s.DepthPct))
	}
	large := math.Abs(amplitude) > max(imprintLimit, imprintSigma*sigma)
	if !large && excess <= max(residueLimit*residueLimit, imprintSigma*powerSigma) {
		m.State = ShadowMatches
		return m, nil
	}
	state, why := r.unmatched(&w, amplitude, sigma, excess, large)
	if why != "" {
		return cannot(why)
	}
	m.State = state
	return m, &imprint{window: w, large: large}
}

// unmatched is how far a shadow that has left an imprint is gone, or why that cannot be told.
func (r *residue) unmatched(w *window, amplitude, sigma, excess float64, large bool) (state string, why fact.Code) {
	amplitude, why = r.ofSensor(w, amplitude, sigma, large)
	switch {
	case why != "":
		return ShadowUnknown, why
	case math.Abs(amplitude) > brightest || excess > strongest:
		return ShadowUnknown, ShadowStrong
	case amplitude > 0.7:
		return ShadowGone, ""
	}
	return ShadowPartly, ""
}

// ofSensor is how much of an imprint stays at the sensor's pixels while the sky moves, or
// why it may be none of the sensor's.
func (r *residue) ofSensor(w *window, amplitude, sigma float64, large bool) (left float64, why fact.Code) {
	v := r.watch(w)
	if !large {
		if z := v.stays(); z < fixedSigma {
			return amplitude, elsewhereIs(z < -fixedSigma)
		}
		return amplitude, ""
	}
	share, err := v.moving(w.depth)
	amplitude -= share
	if doubt := math.Hypot(math.Hypot(sigma, err), skyDoubt*share); math.Abs(amplitude) < max(imprintLimit, fixedSigma*doubt) {
		return amplitude, elsewhereIs(share > fixedSigma*err)
	}
	return amplitude, ""
}

// elsewhereIs tells that a pattern is not shown to be fixed to the sensor.
func elsewhereIs(moves bool) fact.Code {
	if moves {
		return MovesWithStars
	}
	return DitherSmall
}
