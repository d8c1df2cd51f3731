package worth

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// glow is light of the camera's own electronics at the subs' temperature. It
// grows with the exposure, not always in step with it, so that of the sets of one
// temperature those of the exposure nearest to the subs' count; with temperature only
// as far as sets of several temperatures show.
type glow struct {
	rate  float64 // e-/s at its highest; 0 for none
	err   float64
	area  float64   // px that it covers down to half its height
	place fact.Code // as in sensor.Dark.GlowPlace

	scaled bool // measured in another exposure
}

type glowPoint struct{ tempC, rate, err float64 }

// slopeSpan is how far apart in °C two temperatures must lie to show a slope;
// slopeSigma how sure it must be to be used.
const (
	slopeSpan  = 4
	slopeSigma = 3
)

// farExposure is the logarithm of the ratio from which on two exposures differ enough
// for glow that does not grow in step with time to show.
const farExposure = 0.2

// glowSets are the sets that show glow, of each temperature those of the exposure
// nearest to one.
func glowSets(sets []*sensor.Set, exposure float64) []*sensor.Set {
	const alike, sameTempC = 0.01, 1
	var all, nearest []*sensor.Set
	for _, s := range sets {
		if h := s.Dark.GlowHeight; s.Dark.GlowX.OK() && h.OK() && h.V > 0 && s.Group.Exposure > 0 {
			all = append(all, s)
		}
	}
	apart := func(s *sensor.Set) float64 { return math.Abs(math.Log(s.Group.Exposure / exposure)) }
	for _, s := range all {
		if !slices.ContainsFunc(all, func(o *sensor.Set) bool {
			return math.Abs(sensor.TemperatureOf(o.Group)-sensor.TemperatureOf(s.Group)) <= sameTempC && apart(o) < apart(s)-alike
		}) {
			nearest = append(nearest, s)
		}
	}
	return nearest
}

func glowAt(sets []*sensor.Set, celsius, exposure float64) glow {
	var g glow
	var points []glowPoint
	var sharpest float64
	for _, s := range glowSets(sets, exposure) {
		height, t := s.Dark.GlowHeight, s.Group.Exposure
		g.scaled = g.scaled || math.Abs(math.Log(t/exposure)) > farExposure
		points = append(points, glowPoint{sensor.TemperatureOf(s.Group), height.V / t, max(height.KnownErr()/t, 1e-9)})
		if sure := height.V / max(height.KnownErr(), 1e-9); sure > sharpest {
			sharpest = sure
			g.area = halfHeight(s.Dark.Glow)
			g.place = s.Dark.GlowPlace
		}
	}
	if len(points) == 0 {
		return g
	}
	g.rate, g.err = weightedRate(points)
	if line, ok := glowLine(points); ok && math.Abs(line.B) > slopeSigma*line.ErrB && !math.IsNaN(celsius) {
		g.rate = math.Exp(line.At(celsius))
		g.err = g.rate * line.ErrAt(celsius)
	}
	return g
}

func weightedRate(points []glowPoint) (rate, err float64) {
	var sum, weight float64
	for _, p := range points {
		w := 1 / (p.err * p.err)
		sum, weight = sum+w*p.rate, weight+w
	}
	return sum / weight, 1 / math.Sqrt(weight)
}

// glowLine is ln(rate) against temperature.
func glowLine(points []glowPoint) (stats.Line, bool) {
	var x, y, sigma []float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		if math.IsNaN(p.tempC) {
			continue
		}
		low, high = min(low, p.tempC), max(high, p.tempC)
		// A highest cell is no better known than to 2 %: it lies on one of two neighbours.
		x, y, sigma = append(x, p.tempC), append(y, math.Log(p.rate)), append(sigma, max(p.err/p.rate, 0.02))
	}
	if !(high-low >= slopeSpan) {
		return stats.Line{}, false
	}
	line, err := stats.FitLine(x, y, sigma)
	return line, err == nil
}

// halfHeight is how many pixels stand at least half as high as the highest cell.
func halfHeight(m stats.Map) float64 {
	top := 0.0
	for _, v := range m.Values {
		top = max(top, v)
	}
	cells := 0.0
	for _, v := range m.Values {
		if v >= top/2 {
			cells++
		}
	}
	return cells * float64(m.Step*m.Step)
}

// Limits from which glow is worth taking off: it must stand out from the noise
// at its own size, and be more of the sky than what flats and gradients leave
// (common practice, no source).
const (
	glowStandsOut = 5
	glowOfSkyPct  = 2
)

// ofSkyPct is the glow in percent of the sky in it; infinite without sky.
func (s figures) ofSkyPct() float64 { return 100 * s.glow.rate / max(s.sky, 0) }

func (s figures) glowShows(c Case) bool {
	noise := c.Total / math.Sqrt(max(s.glow.area, 1))
	return c.Glow > glowStandsOut*noise && s.ofSkyPct() >= glowOfSkyPct
}
