package frames

import (
	"math"
	"regexp"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// meta turns header cards into metadata; what it had to guess or leave out is
// in the warnings.
func (u *unit) meta(m *Meta) []fact.Fact {
	l := &lookup{h: u.header}
	nan := math.NaN()
	m.Exposure, m.exposureKey = l.measured(synonyms.exposure, inSeconds, nan, func(x float64) bool { return x > 0 && x <= 1e6 })
	if math.IsNaN(m.Exposure) { // a 0 beside another card is no exposure
		m.Exposure = l.measure(synonyms.exposure, inSeconds, nan, within(0, 1e6))
	}
	m.Filter = names.Name(noFilter(l.text(synonyms.filter)))
	m.Target = names.Name(l.text(synonyms.target))
	m.Camera = names.Name(l.text(synonyms.camera))
	m.Telescope = l.text(synonyms.telescope)

	l.gains(m)
	m.OffsetSetting = stats.Significant(l.number(synonyms.offset, nan, within(-1e6, 1e6)), settingDigits)
	m.ReadoutMode = names.Name(l.text(synonyms.readoutMode))
	m.ReadNoise = l.positive(synonyms.readNoise, nil, nan, 1e4)
	m.SensorTemp = l.temperature(synonyms.sensorTemp)
	m.SetTemp = l.temperature(synonyms.setTemp)
	m.AmbientTemp = l.temperature(synonyms.ambientTemp)
	l.binning(m)
	l.optics(m)

	m.RA, m.RABare = l.rightAscension()
	m.Dec = l.degrees(synonyms.dec, NoDeclination, "CRVAL2", "CTYPE2", "DEC-")
	l.site(m)
	l.witnesses(m)
	l.unsetPair(&m.RA, &m.Dec, PointingUnset)
	l.unsetPair(&m.SiteLat, &m.SiteLon, SiteUnset)
	l.start(m)
	m.SiteElevation = l.number(synonyms.siteElevation, nan, within(-500, 9000))
	m.PierSide = l.pierSide()
	m.Rotator = l.number(synonyms.rotator, nan, within(-360, 360))
	if math.IsNaN(m.Rotator) {
		m.Rotator = l.number(synonyms.skyAngle, nan, within(-360, 360))
		m.RotatorOnSky = !math.IsNaN(m.Rotator)
	}
	m.FocusPosition = l.number(synonyms.focus, nan, within(-1e7, 1e7))
	m.Airmass = l.number(synonyms.airmass, nan, within(0.99, 45))
	m.SkyZeroPoint = l.number(synonyms.zeroPoint, nan, within(-50, 50))
	if u.planes == 1 {
		l.bayer(m, u.trim, u.height)
	}
	m.DarkSubtracted = l.darkSubtracted()
	m.Combined = int(l.number(synonyms.frameCount, 0, within(0, 1e6)))
	m.Pedestal = l.number(synonyms.pedestal, 0, within(-65535, 65535))
	m.SampleBits = l.number(synonyms.sampleBits, nan, within(6, 32))
	return l.warnings
}

// unsetPair drops coordinates that are both exactly 0: what programs write when
// nothing was entered.
func (l *lookup) unsetPair(a, b *float64, otherwise fact.Code) {
	if *a == 0 && *b == 0 {
		*a, *b = math.NaN(), math.NaN()
		l.warn(otherwise)
	}
}

func noFilter(name string) string {
	switch strings.ToLower(name) {
	case "no", "none", "no filter", "nofilter", "empty":
		return ""
	}
	return name
}

// binning reads both axes, or one card for both ("2x2", "2 2", "1X1 BIN").
func (l *lookup) binning(m *Meta) {
	x := l.positive(synonyms.binX, nil, 0, 64)
	y := l.positive(synonyms.binY, nil, x, 64)
	if x == 0 {
		l.cards(synonyms.binBoth, func(_ keyword, c card) bool {
			parts := strings.FieldsFunc(strings.ToLower(c.value), func(r rune) bool { return r == 'x' || r == ' ' || r == ',' || r == '*' })
			if len(parts) == 0 {
				return false
			}
			bx, _, ok := parseNumber(parts[0])
			by, ok2 := bx, true
			if len(parts) > 1 && parts[1] != "bin" {
				by, _, ok2 = parseNumber(parts[1])
			}
			if !ok || !ok2 || bx < 1 || by < 1 || bx > 64 || by > 64 {
				return false
			}
			x, y = bx, by
			return true
		})
	}
	if x >= 1 && y >= 1 {
		m.BinX, m.BinY, m.binTold = int(x), int(y), true
	}
}

// optics reads pixel size, focal length and aperture; 0 is "not known". XPIXSZ
// is the size after binning, by what its writers say; the others that of the
// sensor's own pixels (common practice, no source).
func (l *lookup) optics(m *Meta) {
	nan := math.NaN()
	m.PixelSize = l.positive(synonyms.pixelSize, inMicrons, nan, 200)
	if math.IsNaN(m.PixelSize) {
		m.PixelSize = l.positive(synonyms.pixelSizeUnbinned, inMicrons, nan, 200) * float64(m.BinX)
	}
	m.FocalLength = l.measure(synonyms.focalLength, inMM, nan, within(10, 1e6))
	m.Aperture = l.measure(synonyms.aperture, inMM, nan, within(10, 1e5)) // below, it is a focal ratio
	if m.HeaderScale = l.scaleCard(m.PixelSize); math.IsNaN(m.HeaderScale) {
		m.HeaderScale = l.worldScale()
	}
}

// pierSide reads words and, from some drivers, 0 for east and 1 for west.
func (l *lookup) pierSide() (side string) {
	l.cards(synonyms.pierSide, func(_ keyword, c card) bool {
		switch v := strings.ToLower(strings.TrimPrefix(strings.ToLower(c.value), "pier")); {
		case v == "0" || strings.HasPrefix(v, "e"):
			side = "east"
		case v == "1" || strings.HasPrefix(v, "w"):
			side = "west"
		}
		return side != ""
	})
	return side
}

var (
	// calibrationLetters are what CALSTAT tells by: bias, dark, flat, and the like.
	calibrationLetters = regexp.MustCompile(`(?i)^[BDFMSZ,;:+ ]{1,8}$`)
	// denied is a line that says that something was not done.
	denied = regexp.MustCompile(`\b(no|not|without)( any| a)?( master)?[ -](bias|dark|zero)|(correction|subtraction|corrected|subtracted)\W*\b(no|none|off|false|disabled|f)\b`)
)

// darkSubtracted tells whether the header says that bias or dark were taken
// off: letters B or D in CALSTAT, or a line of history.
func (l *lookup) darkSubtracted() bool {
	if c, ok := l.h.get("CALSTAT"); ok && calibrationLetters.MatchString(c.value) && strings.ContainsAny(strings.ToUpper(c.value), "BD") {
		return true
	}
	for _, line := range l.h.history {
		line = strings.ToLower(line)
		if denied.MatchString(line) {
			continue
		}
		for _, what := range []string{"bias", "dark", "zero"} {
			for _, done := range []string{" corrected", " subtracted", " subtraction", "-subtracted"} {
				if strings.Contains(line, what+done) {
					return true
				}
			}
		}
	}
	return false
}
