package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// patch is the residuals of the stars in one part of the field, their weights, and what
// fainter stars make of them.
type patch struct{ ln, weight, confused []float64 }

// unevenness compares the scatter of the ratio between patches of the field
// with what the noise of their stars explains, as a share of the ratio's mean: the middle
// star's light, which the ratio is over, is that of one patch or another. A patch counts
// with the median of three stars or more, so that one that varies or is two does not make
// a cloud; only where the field is too sparse for that, single ones have to do.
func (z *zeroPoints) unevenness(j int, covered float64) stats.Value {
	f := z.fields[j]
	var field [stars.Parts * stars.Parts]patch
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if z.seen[o.star] < 2 || math.Abs(z.residual(j, o)) > 1.5 {
			continue
		}
		if !(o.seenFor(z.star[o.star]+z.zero[j]) > 0) {
			continue
		}
		p := &field[stars.PartOf(f.Stars[o.index].X, f.Stars[o.index].Y, f.Width, f.Height, stars.Parts)]
		p.ln = append(p.ln, z.residual(j, o))
		// However little the stars scatter in clear fields, they do not fill their part evenly.
		p.weight = append(p.weight, 1/(z.spread*z.spread*(o.sigma*o.sigma+stars.Systematic*stars.Systematic)))
		p.confused = append(p.confused, o.confused)
	}
	ratio, noise := ratios(field[:], 3)
	if len(ratio) < stars.Parts*stars.Parts/2 {
		ratio, noise = withoutOdd(ratios(field[:], 1))
	}
	if len(ratio) < 4 {
		return stats.Missing(stars.FewForParts)
	}
	n, own, square := float64(len(ratio)), stats.Mean(noise), patchSquare(ratio, noise)
	err := uncertainty(math.Sqrt(square), squareErr(square, own, n))
	// Hidden parts let nothing through: a share h at zero adds h (1 - h) of the ratio's square.
	v := math.Sqrt(square + covered*(1-covered))
	return stats.Known(100*v, 100*err, len(ratio))
}

// patchSquare is how far the patches' ratios scatter beyond their noise, squared, as a share of
// their mean's square.
func patchSquare(ratio, noise []float64) float64 {
	const all = stars.Parts * stars.Parts
	n, mean := float64(len(ratio)), stats.Mean(ratio)
	return max(0, stats.Variance(ratio)*n/(n-1)/(mean*mean)-stats.Mean(noise)) * (all - 1) / all
}

// oddFrom is how many of the others' standard deviations a patch is off that is left out: of a
// dozen normal ones hardly one in thirty has such a one.
const oddFrom = 3

// withoutOdd leaves out the patch furthest from the others, if it is no part of how they
// scatter: of single stars one that varies, is two or stands on a hot pixel.
func withoutOdd(ratio, noise []float64) (_, _ []float64) {
	mean, odd := stats.Mean(ratio), 0
	for i, r := range ratio {
		if math.Abs(r-mean) > math.Abs(ratio[odd]-mean) {
			odd = i
		}
	}
	if len(ratio) < 4 {
		return ratio, noise
	}
	rest := slices.Delete(slices.Clone(ratio), odd, odd+1)
	if math.Abs(ratio[odd]-stats.Mean(rest)) < oddFrom*math.Sqrt(stats.Variance(rest)) {
		return ratio, noise
	}
	return rest, slices.Delete(noise, odd, odd+1)
}

// squareErr is the error of the square of an sd over the field of which n patches tell, with
// so much variance of their own noise each: the patches are the field, no sample of a
// larger one, so that only their noise and those that are not told put it off (variance of
// normal ones, some of them given; from memory).
func squareErr(square, own, n float64) float64 {
	untold := 1 - n/(stars.Parts*stars.Parts)
	return math.Sqrt((4*square*own + 2*own*own + 2*untold*square*square) / (n - 1))
}

// uncertainty is the error of a figure whose square has one: of the sides above and below it
// the larger, since what is asked is how uneven a field surely is.
func uncertainty(v, squareErr float64) float64 {
	above, below := math.Sqrt(v*v+squareErr)-v, v-math.Sqrt(max(0, v*v-squareErr))
	return max(above, below)
}

// ratios are those of the patches with so many stars that are known to a tenth,
// and their variances: by what the stars' noise makes, or by what those of a patch
// scatter when that is more, and by the fainter ones, which add to or take from the
// light of all of them together.
func ratios(field []patch, fewest int) (ratio, noise []float64) {
	for _, p := range field {
		if len(p.ln) < fewest {
			continue
		}
		var sum, confused float64
		for i, w := range p.weight {
			sum += w
			confused += w * p.confused[i]
		}
		median := stats.MedianValue(p.ln, p.weight, nil, "")
		variance := 1 / sum
		if len(p.ln) > 2 {
			variance = max(variance*math.Pi/2, median.Err*median.Err)
		}
		confused /= sum
		if variance += confused * confused; variance < 0.1*0.1 {
			ratio, noise = append(ratio, math.Exp(median.V)), append(noise, variance)
		}
	}
	return ratio, noise
}
