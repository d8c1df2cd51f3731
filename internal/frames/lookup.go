package frames

import (
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// lookup finds values in a header through the table of synonyms and collects
// what it had to say about them.
type lookup struct {
	h        *header
	warnings []fact.Fact
}

func (l *lookup) warn(code fact.Code, values ...fact.Value) {
	l.warnings = append(l.warnings, fact.Of(code, values...))
}

// blankText are texts that stand for "not known".
var blankText = map[string]bool{
	"": true, "n/a": true, "na": true, "null": true, "nil": true, "unknown": true, "undefined": true, "-": true, "--": true,
	"?": true, "nan": true, "not set": true, "unspecified": true, "none": true, "no target": true, "no object": true,
}

// cards are the cards of a figure with any value, in order of preference. Of
// one keyword written twice the first usable card counts.
func (l *lookup) cards(keys []keyword, use func(k keyword, c card) bool) {
	for _, k := range keys {
		all := l.h.all(k.name)
		for i, c := range all {
			if blankText[strings.ToLower(strings.TrimSpace(c.value))] {
				continue
			}
			if !use(k, c) {
				continue
			}
			for _, other := range all[i+1:] {
				if other.value != c.value {
					l.warn(CardTwice, ofCard(k.name, c)...)
					break
				}
			}
			return
		}
	}
}

// text is the first text of a figure, "" when there is none.
func (l *lookup) text(keys []keyword) (found string) {
	l.cards(keys, func(_ keyword, c card) bool {
		found = strings.TrimSpace(c.value)
		return found != ""
	})
	return found
}

// number is the first number of a figure that passes the check; missing when
// there is none. A card that is no number, or fails, costs its value and a
// warning only.
func (l *lookup) number(keys []keyword, missing float64, valid func(float64) bool) float64 {
	return l.measure(keys, nil, missing, valid)
}

// positive is number for figures of which 0 means "not known".
func (l *lookup) positive(keys []keyword, units map[string]float64, missing, most float64) float64 {
	return l.measure(keys, units, missing, func(x float64) bool { return x > 0 && x <= most })
}

// measure is number with units: what the unit behind the number, or in square
// brackets at the start of the comment, multiplies it by.
func (l *lookup) measure(keys []keyword, units map[string]float64, missing float64, valid func(float64) bool) float64 {
	v, _ := l.measured(keys, units, missing, valid)
	return v
}

// measured is measure, and the keyword of a number whose unit neither that nor the card
// tells; "" where one does.
func (l *lookup) measured(keys []keyword, units map[string]float64, missing float64, valid func(float64) bool) (v float64, bare string) {
	v = missing
	l.cards(keys, func(k keyword, c card) bool {
		x, unit, ok := parseNumber(c.value)
		if !ok {
			l.warn(CardNoNumber, ofCard(k.name, c)...)
			return false
		}
		if k.factor != 0 {
			x *= k.factor
		}
		factor, told := factorOf(unit, c.comment, units)
		x *= factor
		if !valid(x) {
			if x != 0 { // 0 is how "not known" is written
				l.warn(CardSenseless, fact.Text("key", k.name), fact.Number("number", stats.Significant(x, 4)))
			}
			return false
		}
		v = x
		if bare = k.name; told || k.factor != 0 {
			bare = ""
		}
		return true
	})
	return v, bare
}

// factorOf is what a number is multiplied by for the unit behind it, in brackets at
// the start of the comment, or spelled out in the comment where that names one alone;
// told where there is one.
func factorOf(unit, comment string, units map[string]float64) (factor float64, told bool) {
	if unit == "" {
		unit = bracketed(comment)
	}
	if unit != "" {
		of, _, _ := strings.Cut(strings.ToLower(unit), "/") // "arcsec/px"
		if f := units[strings.TrimSpace(of)]; f != 0 {
			return f, true
		}
		return 1, false
	}
	found := 0.0
	for _, w := range words(comment) {
		f := units[w]
		if len(w) < 2 || f == 0 || w == "in" || w == "us" || w == "min" { // words of their own
			continue
		}
		if found != 0 && f != found {
			return 1, false
		}
		found = f
	}
	if found == 0 {
		return 1, false
	}
	return found, true
}

// bracketed is the unit that a comment starts with, FITS 4.0 section 4.3.
func bracketed(comment string) string {
	if unit, _, ok := strings.Cut(strings.TrimPrefix(comment, "["), "]"); ok && strings.HasPrefix(comment, "[") {
		return strings.TrimSpace(unit)
	}
	return ""
}

// Units by which headers give what Meta has in seconds, millimetres, micrometres and
// arcseconds.
var (
	inSeconds = map[string]float64{"s": 1, "sec": 1, "seconds": 1, "ms": 1e-3, "msec": 1e-3, "millisecond": 1e-3, "milliseconds": 1e-3,
		"us": 1e-6, "µs": 1e-6, "microsecond": 1e-6, "microseconds": 1e-6, "m": 60, "min": 60, "minutes": 60, "h": 3600, "hours": 3600}
	inMM = map[string]float64{"mm": 1, "millimeters": 1, "millimetres": 1, "cm": 10, "centimeters": 10, "centimetres": 10, "m": 1000, "meters": 1000, "metres": 1000,
		"in": 25.4, "inch": 25.4, "inches": 25.4}
	inMicrons = map[string]float64{"um": 1, "µm": 1, "micron": 1, "microns": 1, "mm": 1000, "m": 1e6, "nm": 1e-3}
	inArcsec  = map[string]float64{"arcsec": 1, "arcsecs": 1, "arcseconds": 1, "\"": 1, "arcmin": 60, "arcminutes": 60, "'": 60,
		"deg": 3600, "degree": 3600, "degrees": 3600, "mas": 1e-3, "rad": 3600 * 180 / math.Pi, "radians": 3600 * 180 / math.Pi}
)

func within(lo, hi float64) func(float64) bool {
	return func(v float64) bool { return v >= lo && v <= hi }
}
