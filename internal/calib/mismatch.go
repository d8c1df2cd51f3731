package calib

import (
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
)

// gravity is how much a mismatch matters when candidates are compared: what makes
// frames useless before what costs accuracy.
func (m Mismatch) gravity() float64 {
	switch m.Property {
	case OfBinning, OfSize:
		return 100
	case OfCamera:
		return 50
	case OfFilter:
		return 30
	case OfGain, OfReadout:
		return 20
	case OfOffset:
		return 10
	case OfRotation:
		return 8
	case OfExposure:
		if m.scales() {
			return 2 + math.Abs(m.By)/10
		}
		return 5 + math.Abs(m.By)
	default:
		return 3 + m.By/10
	}
}

// scales tells that a dark is long enough to be scaled to the subs' exposure; to their
// temperature none is.
func (m Mismatch) scales() bool { return m.Property == OfExposure && m.By >= -math.Log(maxDarkScale) }

// Serves tells that frames are of use though they do not match: flats of another gain, offset
// or read-out, for the light falls alike, and darks of another exposure, scaled above a bias.
func (f *Fit) Serves() bool {
	return !f.Fits && len(f.Mismatches) > 0 && !slices.ContainsFunc(f.Mismatches, func(m Mismatch) bool {
		switch f.Kind {
		case frames.Flat:
			return m.spoilsFlat() || m.Property == OfRotation
		case frames.Dark:
			return !m.scales()
		}
		return true
	})
}

// spoilsFlat tells whether a flat that differs so shows another light than the
// subs'; gain, offset and read-out mode do not, and of a rotation only the dust's.
func (m Mismatch) spoilsFlat() bool {
	switch m.Property {
	case OfGain, OfOffset, OfReadout, OfRotation:
		return false
	}
	return true
}

// ofOtherLight tells that flats show another light than the subs'.
func (c *candidate) ofOtherLight() bool {
	return slices.ContainsFunc(c.mismatches, Mismatch.spoilsFlat)
}

// ofOtherCamera tells that neither name nor size is that of the subs' camera: what such
// frames lack is not worth telling.
func (c *candidate) ofOtherCamera() bool {
	of := func(p Property) bool {
		return slices.ContainsFunc(c.mismatches, func(m Mismatch) bool { return m.Property == p })
	}
	return of(OfCamera) && of(OfSize)
}

// candidate is calibration frames weighed against a group of subs.
type candidate struct {
	group      *frames.Group
	mismatches []Mismatch
	unknown    []Property // that a header lacks
}

func (c *candidate) gravity() float64 {
	sum := 0.1 * float64(len(c.unknown))
	for _, m := range c.mismatches {
		sum += m.gravity()
	}
	return sum
}

// only tells whether nothing but one property stands against a candidate.
func (c *candidate) only(p Property) bool {
	for _, m := range c.mismatches {
		if m.Property != p {
			return false
		}
	}
	return true
}

func (c *candidate) differ(p Property, mine, subs string) {
	c.mismatches = append(c.mismatches, Mismatch{p, mine, subs, math.NaN(), math.NaN()})
}

func (a *analysis) weigh(g, lights *frames.Group) *candidate {
	c := &candidate{group: g}
	c.readout(g, lights)
	switch g.Kind {
	case frames.Flat:
		switch {
		case g.Filter == "" && a.oneFilter(lights.Camera):
			c.unknown = append(c.unknown, OfFilter)
		case g.Filter != lights.Filter:
			c.differ(OfFilter, nameOf(g.Filter), nameOf(lights.Filter))
		}
		c.rotation(g.Rotation(), lights.Rotation())
	case frames.Dark:
		c.exposure(g.Exposure, lights.Exposure, a.opt.ExposureTol)
		c.temperature(sensor.TemperatureOf(g), sensor.TemperatureOf(lights), a.opt.TempTolC)
	case frames.Bias:
		c.temperature(sensor.TemperatureOf(g), sensor.TemperatureOf(lights), biasTempTol)
	}
	return c
}

// oneFilter tells that a camera's subs name one filter, which its flats need not name.
func (a *analysis) oneFilter(camera names.Name) bool {
	var one names.Name
	for _, l := range a.lights {
		if l.Camera == camera {
			if l.Filter == "" || one != "" && l.Filter != one {
				return false
			}
			one = l.Filter
		}
	}
	return one != ""
}

// readout compares what every kind must share.
func (c *candidate) readout(g, lights *frames.Group) {
	if g.Camera != lights.Camera {
		c.differ(OfCamera, nameOf(g.Camera), nameOf(lights.Camera))
	}
	if g.BinX != lights.BinX || g.BinY != lights.BinY {
		c.differ(OfBinning, fmt.Sprintf("%dx%d", g.BinX, g.BinY), fmt.Sprintf("%dx%d", lights.BinX, lights.BinY))
	}
	if g.Width != lights.Width || g.Height != lights.Height {
		c.differ(OfSize, fmt.Sprintf("%dx%d", g.Width, g.Height), fmt.Sprintf("%dx%d", lights.Width, lights.Height))
	}
	c.setting(OfGain, g.GainSetting, lights.GainSetting)
	c.setting(OfOffset, g.OffsetSetting, lights.OffsetSetting)
	switch mine, subs := g.ReadoutMode, lights.ReadoutMode; {
	case (mine == "") != (subs == ""):
		c.unknown = append(c.unknown, OfReadout)
	case mine != subs:
		c.differ(OfReadout, nameOf(mine), nameOf(subs))
	}
}

// setting compares a number that must be the same.
func (c *candidate) setting(p Property, mine, subs float64) {
	switch {
	case math.IsNaN(mine) != math.IsNaN(subs):
		c.unknown = append(c.unknown, p)
	case mine != subs && !math.IsNaN(mine):
		c.differ(p, rounded(mine), rounded(subs))
	}
}

func rounded(v float64) string { return fmt.Sprintf("%g", math.Round(v*100)/100) }

func (c *candidate) rotation(mine, subs frames.Rotation) {
	switch {
	case mine.Differs(subs):
		c.differ(OfRotation, mine.String(), fmt.Sprintf("%.0f°", subs.Degrees))
	case mine.Known() != subs.Known() || mine.OnSky != subs.OnSky:
		c.unknown = append(c.unknown, OfRotation)
	}
}

func (c *candidate) exposure(mine, subs, tolerance float64) {
	switch {
	case math.IsNaN(mine) || math.IsNaN(subs):
		c.unknown = append(c.unknown, OfExposure)
	case math.Abs(mine-subs) > tolerance*subs:
		by := math.Log(max(mine, 1e-3) / max(subs, 1e-3))
		c.mismatches = append(c.mismatches, Mismatch{OfExposure, rounded(mine) + " s", rounded(subs) + " s", by, tolerance})
	}
}

func (c *candidate) temperature(mine, subs, tolerance float64) {
	switch d := math.Abs(mine - subs); {
	case math.IsNaN(mine) && math.IsNaN(subs):
	case math.IsNaN(d):
		c.unknown = append(c.unknown, OfTemperature)
	case d > tolerance:
		c.mismatches = append(c.mismatches, Mismatch{OfTemperature, fmt.Sprintf("%.1f °C", mine), fmt.Sprintf("%.1f °C", subs), d, tolerance})
	}
}

func nameOf(n names.Name) string {
	if n == "" {
		return "unknown"
	}
	return frames.Printable(string(n))
}

// biasTempTol is how far in °C a bias may be off the subs' temperature: the
// offset of most cameras hardly moves with it (common practice, no source).
const biasTempTol = 5
