package frames

import (
	"math"
	"strings"

	"fitsqa/internal/stats"
)

// scaleCard is the pixel scale that a card gives, arcsec: of two axes the first, and
// per pixel where it is the plate scale in arcsec per mm. SCALE is believed only as
// far as it looks like a pixel scale: others scale pixels by it.
func (l *lookup) scaleCard(pixelSize float64) (scale float64) {
	scale = math.NaN()
	l.cards(synonyms.plateScale, func(k keyword, c card) bool {
		value := c.value
		if both := strings.Fields(value); len(both) == 2 && both[0] == both[1] {
			value = both[0]
		}
		x, unit, ok := parseNumber(value)
		if !ok {
			l.warn(CardNoNumber, ofCard(k.name, c)...)
			return false
		}
		factor, _ := factorOf(unit, c.comment, inArcsec)
		x = math.Abs(x) * factor
		text := strings.ToLower(unit + " " + c.comment)
		if strings.Contains(text, "/mm") || strings.Contains(text, "/ mm") || strings.Contains(text, "per mm") || strings.Contains(text, "per millimet") {
			x *= pixelSize / 1000
		}
		if k.name == "SCALE" && !strings.Contains(text, "arcs") && !strings.Contains(text, "\"") && (x == 1 || x > 30) {
			return false
		}
		if !(x > 0 && x <= 1000) {
			return false
		}
		scale = x
		return true
	})
	return scale
}

// worldScale is the pixel scale of the world coordinates, arcsec, by the matrix
// CDi_j or the steps CDELTi (FITS 4.0 section 8.1; Calabretta and Greisen 2002,
// A&A 395, 1077, section 2); NaN when the axes are not the sky's.
func (l *lookup) worldScale() float64 {
	one := func(key string) float64 { return l.number(keys(key), math.NaN(), within(-1e6, 1e6)) }
	if !l.celestial() {
		return math.NaN()
	}
	area := math.Abs(one("CD1_1")*one("CD2_2") - stats.OrZero(one("CD1_2"))*stats.OrZero(one("CD2_1")))
	if math.IsNaN(area) { // a camera turned by a right angle may leave the diagonal out
		area = math.Abs(one("CD1_2") * one("CD2_1"))
	}
	if !(area > 0) {
		area = math.Abs(one("CDELT1") * one("CDELT2"))
	}
	scale := math.Sqrt(area) * l.axisUnit()
	if !(scale > 0.01 && scale < 1000) {
		return math.NaN()
	}
	return scale
}

// celestial tells whether the first two axes can be the sky.
func (l *lookup) celestial() bool {
	c, ok := l.h.get("CTYPE1")
	if !ok || strings.TrimSpace(c.value) == "" {
		return true
	}
	kind, _, _ := strings.Cut(strings.ToUpper(c.value), "-")
	switch kind {
	case "RA", "DEC", "GLON", "GLAT", "ELON", "ELAT":
		return true
	}
	return false
}

// dispersed tells that an axis is a wavelength, frequency or velocity (FITS 4.0
// section 8.4, table 25).
func (l *lookup) dispersed() bool {
	for _, key := range []string{"CTYPE1", "CTYPE2"} {
		for _, kind := range []string{"WAVE", "AWAV", "LAMBDA", "FREQ", "ENER", "VELO", "VRAD", "VOPT"} {
			if l.axisIs(key, kind) {
				return true
			}
		}
	}
	return false
}

func (l *lookup) axisUnit() float64 {
	if c, ok := l.h.get("CUNIT1"); ok {
		switch strings.ToLower(strings.TrimSpace(c.value)) {
		case "arcsec":
			return 1
		case "arcmin":
			return 60
		case "rad":
			return 3600 * 180 / math.Pi
		}
	}
	return 3600
}
