package frames

import (
	"cmp"
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// temperature is a figure in °C, to a hundredth, which no sensor tells any better. Above
// 100 it can only be kelvin; below -150 °C (as the -273, -999 and the like that stand for
// a missing probe) it is no reading.
func (l *lookup) temperature(keys []keyword) float64 {
	v := math.NaN()
	l.cards(keys, func(k keyword, c card) bool {
		x, unit, ok := parseNumber(c.value)
		unit = thermometer(unit, c.comment)
		switch {
		case !ok:
			l.warn(CardNoNumber, ofCard(k.name, c)...)
			return false
		case unit == "K" || x > 100 && x < 400:
			l.warn(Kelvin, fact.Text("key", k.name), fact.Number("number", stats.Significant(x, 4)), fact.Number("temp_c", x-273.15))
			v = x - 273.15
		case unit == "F":
			v = (x - 32) / 1.8
		case x < -150 || x > 100:
			return false
		default:
			v = x
		}
		return true
	})
	return math.Round(v*100) / 100
}

// thermometer is the scale that a unit or a comment names: K, F, or "" for °C.
func thermometer(unit, comment string) string {
	if unit == "" {
		unit = bracketed(comment)
	}
	for _, w := range words(cmp.Or(unit, comment)) {
		switch {
		case w == "kelvin" || w == "k" && unit != "":
			return "K"
		case w == "fahrenheit" || (w == "f" || w == "degf") && unit != "":
			return "F"
		}
	}
	return ""
}
