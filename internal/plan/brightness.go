package plan

import (
	"math"

	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// brightness of the sky per square arcsecond, and in magnitudes when a zero
// point is given by the user, by the header, or by the optics.
func (e *Exposure) brightness(g Group, good []*subs.Sub, opt Options) {
	scale := math.NaN()
	for _, s := range good {
		if s.PixelScale > 0 {
			scale = s.PixelScale
		}
	}
	switch {
	case !e.Sky.OK():
		e.SkyArcsec = stats.Because(e.Sky.Why)
	case math.IsNaN(scale):
		e.SkyArcsec = stats.Missing(ScaleUnknown)
	default:
		e.SkyArcsec = e.Sky.Scaled(1 / (scale * scale))
	}
	if !e.SkyArcsec.OK() {
		e.SkyMag = stats.Because(e.SkyArcsec.Why)
		return
	}
	if zp := zeroPoint(g, opt); !math.IsNaN(zp) {
		e.SkyMag = stats.Known(sky.Brightness(e.Sky.V, scale, zp), 2.5/math.Ln10*e.Sky.KnownErr()/e.Sky.V, e.Sky.N)
	} else {
		e.SkyMag = stats.Missing(NoZeroPoint)
	}
	if measured := g.Season.SkyMag; measured.N > 0 && measured.OK() { // by the field's own stars
		e.SkyMag = measured
	}
	if !e.SkyMag.OK() {
		return
	}
	if passesAll(g.Filter) && !(e.Bandwidth < broad) { // the scale is for all visible light
		e.Bortle = sky.BortleOf(e.SkyMag.V)
	}
}

// zeroPoint is the magnitude that gives 1 e-/s; NaN when nothing tells.
func zeroPoint(g Group, opt Options) float64 {
	f := opt.filter(g.Filter)
	switch width := bandwidth(f); {
	case f.ZeroPoint != 0:
		return f.ZeroPoint
	case !math.IsNaN(g.ZeroPoint) && g.Calibration.Gain.OK():
		return sky.ElectronZeroPoint(g.ZeroPoint, g.Calibration.Gain.V)
	case opt.Efficiency > 0 && g.Aperture > 0 && f.WavelengthNM > 0 && width > 0:
		return sky.Optics{Aperture: g.Aperture / 1000, Efficiency: opt.Efficiency, Bandwidth: width, Wavelength: f.WavelengthNM}.ZeroPoint()
	}
	return math.NaN()
}

// broad is the bandwidth in nm from which a filter passes about what the eye sees.
const broad = 60
