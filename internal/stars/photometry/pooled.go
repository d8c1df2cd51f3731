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

// pooledWidth is how much either may differ by, of what their stars differ by in ln FWHM: halos
// do not shrink with the seeing, neighbours' light grows with it.
const pooledWidth = 0.2

// pool tells it of every field.
func pool(fields []*stars.Field) []pooled {
	out := make([]pooled, len(fields))
	exponents, beyond, apart := make([]stats.Value, len(fields)), make([]stats.Value, len(fields)), apartIn(fields)
	for j, f := range fields {
		if f != nil {
			exponents[j] = f.Scale.Exponent
			out[j].filterErr = f.FilterErr
		}
	}
	growth := growthOf(fields)
	common := inCommon(exponents)
	for j, f := range fields {
		if f == nil {
			continue
		}
		grown := growth.at(f)
		out[j].all, out[j].fluxErr = -grown.V, math.Hypot(f.FluxErr, grown.Err)
		own := exponents[j]
		if own.N == 0 {
			continue
		}
		share := common.share(own, own.Err*own.Err, apart[j])
		// In errors of the exponent, which are what other figures' errors are told by.
		moved, left := share*(common.middle-own.V)/own.Err, math.Sqrt(1-share)
		out[j].all, out[j].fluxErr = moved*f.FluxErr-grown.V, math.Hypot(left*f.FluxErr, grown.Err)
		byProfile := math.Hypot(f.Scale.ProfileErr, left*f.Scale.LightErr)
		beyond[j] = stats.Known(f.Scale.Beyond-grown.V+moved*(f.FluxErr-f.Scale.LightErr), math.Hypot(f.FilterErr, byProfile), own.N)
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
