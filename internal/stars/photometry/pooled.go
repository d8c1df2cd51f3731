package photometry

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The light of faint stars is the filter's answer on a scale that the pixels of a few tell,
// with three times the noise of the answers. The profile of these tells it as well as the
// answers do, but for its exponent, which faint stars hardly tell, and for what optics and
// air scatter beyond it. Both are much the same in all fields of a group: where they are
// surer of all together than of one by itself, those tell them, as far as the fields show
// them to differ by no more than their errors.

// pooled is what the others tell of the light of a field's stars.
type pooled struct {
	all, filter        float64 // ln by which all stars are brighter than it tells by itself, and those besides that the filter measured
	fluxErr, filterErr float64 // what is left of Field.FluxErr and Field.FilterErr
}

const (
	fewestPooled = 5   // fields that tell what they have in common
	pooledAlike  = 3.0 // standard errors by which a field may differ from the others
	pooledWidth  = 0.2 // of either, as much as their stars differ in ln FWHM: halos do not shrink with the seeing, neighbours' light grows with it
)

// pool tells it of every field.
func pool(fields []*stars.Field) []pooled {
	out := make([]pooled, len(fields))
	exponents, beyond, apart := make([]stats.Value, len(fields)), make([]stats.Value, len(fields)), apartIn(fields)
	for j, f := range fields {
		if f != nil {
			exponents[j] = f.Scale.Exponent
			out[j].fluxErr, out[j].filterErr = f.FluxErr, f.FilterErr
		}
	}
	common := inCommon(exponents)
	for j, f := range fields {
		own := exponents[j]
		if own.N == 0 {
			continue
		}
		share := common.share(own, own.Err*own.Err, apart[j])
		// In errors of the exponent, which are what other figures' errors are told by.
		moved, left := share*(common.middle-own.V)/own.Err, math.Sqrt(1-share)
		out[j].all, out[j].fluxErr = moved*f.FluxErr, left*f.FluxErr
		byProfile := math.Hypot(f.Scale.ProfileErr, left*f.Scale.LightErr)
		beyond[j] = stats.Known(f.Scale.Beyond+moved*(f.FluxErr-f.Scale.LightErr), math.Hypot(f.FilterErr, byProfile), own.N)
	}
	common = inCommon(beyond)
	for j, f := range fields {
		if beyond[j].N > 0 {
			share := common.share(beyond[j], f.FilterErr*f.FilterErr, apart[j])
			out[j].filter = share * (common.middle - beyond[j].V)
			out[j].filterErr *= math.Sqrt(1 - share)
		}
	}
	return out
}

// apartIn is how far what fields have in common may be apart in each for its stars' width.
func apartIn(fields []*stars.Field) []float64 {
	out := make([]float64, len(fields))
	usual := usualWidth(fields)
	for j, f := range fields {
		if out[j] = math.Inf(1); f != nil && f.FWHM.OK() {
			out[j] = pooledWidth * math.Abs(math.Log(f.FWHM.V/usual))
		}
	}
	return out
}

// usualWidth is the median FWHM of fields, px.
func usualWidth(fields []*stars.Field) float64 {
	var widths []float64
	for _, f := range fields {
		if f != nil && f.FWHM.OK() {
			widths = append(widths, f.FWHM.V)
		}
	}
	return stats.Median(widths)
}

// sharedValue is what values have in common, and the variance by which they differ beyond their errors.
type sharedValue struct{ middle, variance float64 }

// inCommon is that of the values that are known; of too few their variance has no limit.
func inCommon(values []stats.Value) sharedValue {
	var x, variances []float64
	for _, v := range values {
		if v.N > 0 && v.Err > 0 {
			x, variances = append(x, v.V), append(variances, v.Err*v.Err)
		}
	}
	if len(x) < fewestPooled {
		return sharedValue{variance: math.Inf(1)}
	}
	c := sharedValue{variance: math.Pow(stats.MADSigma(x), 2)}
	w := make([]float64, len(x))
	for range 6 { // each halves what is left at least
		for i, v := range variances {
			w[i] = 1 / (v + c.variance)
		}
		c.middle = stats.WeightedMedian(x, w)
		var sum, beyond float64
		for i, v := range variances {
			if away := x[i] - c.middle; w[i]*away*away < pooledAlike*pooledAlike {
				sum, beyond = sum+w[i], beyond+w[i]*(away*away-v)
			}
		}
		c.variance = max(0, beyond/sum) + 1/sum // that of what they have in common
	}
	return c
}

// share is that of the common value in a field's, of whose error a variance is open to it,
// and which may be so far apart from the others'.
func (c sharedValue) share(own stats.Value, open, apart float64) float64 {
	variance := own.Err*own.Err + c.variance + apart*apart
	if !(open > 0) || math.Abs(own.V-c.middle) > pooledAlike*math.Sqrt(variance) {
		return 0
	}
	return open / variance
}
