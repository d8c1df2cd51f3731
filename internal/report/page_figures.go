package report

import (
	"maps"
	"slices"

	"fitsqa/internal/night"
)

// figureKeys are the figures that the page's scripts know, by their keys in subData and
// their names; "sky" is that of the night's level.
var figureKeys = map[string]string{
	"transparency": "transparency", "fwhm": "fwhm_px", "fwhmArcsec": "fwhm_arcsec", "hfd": "hfd_px", "ellipticity": "ellipticity",
	"angle": "elongation_angle_deg", "coherence": "coherence", "stars": "stars", "weight": "weight", "airmass": "airmass",
	"sunAlt": "sun_alt_deg", "moonAlt": "moon_alt_deg", "season": "season_transparency", "skyMag": "sky_mag_arcsec2", "limit": "limiting_mag",
}

// tableKeys are those of the table's columns, numberKeys those that its rows can be
// chosen by.
var (
	tableKeys  = []string{"sky", "stars", "fwhm", "hfd", "ellipticity", "coherence", "transparency", "weight"}
	numberKeys = []string{"fwhm", "fwhmArcsec", "ellipticity", "transparency", "sky", "stars", "hfd", "coherence", "weight"}
)

func measureAt(key, level string) measure {
	if key == "sky" {
		return measureOf(level)
	}
	return measureOf(figureKeys[key])
}

type figureHead struct{ Key, Heading string }

func figureHeads(keys []string, level string) []figureHead {
	var heads []figureHead
	for _, key := range keys {
		heads = append(heads, figureHead{key, measureAt(key, level).heading()})
	}
	return heads
}

// numberHeads are those of numberKeys, in arcseconds only where some sub has them.
func numberHeads(level string, arcsec bool) []figureHead {
	return figureHeads(slices.DeleteFunc(slices.Clone(numberKeys), func(key string) bool { return key == "fwhmArcsec" && !arcsec }), level)
}

func figureTexts(s *night.Sub, level string) []string {
	var texts []string
	for _, key := range tableKeys {
		texts = append(texts, measureAt(key, level).text(s))
	}
	return texts
}

// figureWords are what the scripts say of a figure.
type figureWords struct {
	Title  string `json:"title"`
	Unit   string `json:"unit"`
	Digits int    `json:"digits"` // as of a measure
}

// pageWords are those of all figures by their keys, with the two that headers give.
func pageWords(level string) map[string]figureWords {
	words := map[string]figureWords{"ambient": {"Air temperature", "°C", 1}, "focus": {"Focuser position", "", 0}}
	for _, key := range append(slices.Collect(maps.Keys(figureKeys)), "sky") {
		m := measureAt(key, level)
		words[key] = figureWords{m.title, m.unit, m.digits}
	}
	return words
}
