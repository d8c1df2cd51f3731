package demo

import "math"

type band struct {
	zero       float64 // e-/s from a star of magnitude 0 outside the atmosphere
	extinction float64 // mag per airmass
	colour     float64 // how strongly a star's colour changes its brightness here
	nebula     float64 // e-/s per pixel of the nebula's brightest part
}

// bands are the filters. The zero point of L is the forecast for 250 mm with a
// tenth of it shaded, 300 nm of bandwidth and a throughput of 0.4 (3631 Jy at
// magnitude 0, AB system); colour filters pass a third of it, the narrow ones 3 nm.
var bands = map[string]band{
	"L":    {zero: 4.5e8, extinction: 0.2, nebula: 0.5},
	"R":    {zero: 1.5e8, extinction: 0.15, colour: 0.5, nebula: 0.3},
	"G":    {zero: 1.5e8, extinction: 0.2, colour: 0, nebula: 0.1},
	"B":    {zero: 1.5e8, extinction: 0.3, colour: -0.5, nebula: 0.1},
	"Ha":   {zero: 4.1e6, extinction: 0.1, colour: 0.5, nebula: 0.12},
	"OIII": {zero: 4.1e6, extinction: 0.2, colour: -0.2, nebula: 0.05},
}

// through a camera's telescope instead of the Newtonian.
func (b band) through(c Camera) band {
	b.zero *= c.light()
	b.nebula *= c.light() * c.scale() * c.scale() / (lumen.scale() * lumen.scale())
	return b
}

// skyRate is the light of sky of a surface brightness mu (mag/arcsec²) in e-/s
// per pixel of scale arcsec/px.
func (b band) skyRate(mu, scale float64) float64 {
	return b.zero * math.Pow(10, -0.4*mu) * scale * scale
}
