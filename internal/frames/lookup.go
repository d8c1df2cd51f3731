package frames

import (
	"fmt"
	"strings"
)

// lookup finds values in a header through the table of synonyms and collects
// what it had to say about them.
type lookup struct {
	h        *header
	warnings []string
}

func (l *lookup) warn(format string, args ...any) {
	l.warnings = append(l.warnings, fmt.Sprintf(format, args...))
}

// blankText are texts that stand for "not known".
var blankText = map[string]bool{
	"": true, "n/a": true, "na": true, "null": true, "nil": true, "unknown": true, "undefined": true, "-": true, "--": true,
	"?": true, "nan": true, "not set": true, "unspecified": true,
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
					l.warn("%s stands more than once with different values: the first, %s, is taken", k.name, Printable(c.value))
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
	v := missing
	l.cards(keys, func(k keyword, c card) bool {
		x, _, ok := parseNumber(c.value)
		if !ok {
			l.warn("%s is not a number: %s", k.name, Printable(c.value))
			return false
		}
		if k.factor != 0 {
			x *= k.factor
		}
		if !valid(x) {
			l.warn("%s = %g makes no sense: ignored", k.name, x)
			return false
		}
		v = x
		return true
	})
	return v
}

// positive is number for sizes of which 0 means "not known".
func (l *lookup) positive(keys []keyword, missing, most float64) float64 {
	v := missing
	l.cards(keys, func(k keyword, c card) bool {
		x, _, ok := parseNumber(c.value)
		switch {
		case !ok:
			l.warn("%s is not a number: %s", k.name, Printable(c.value))
		case x == 0:
		case x < 0 || x > most:
			l.warn("%s = %g makes no sense: ignored", k.name, x)
		default:
			v = x
			return true
		}
		return false
	})
	return v
}

func within(lo, hi float64) func(float64) bool {
	return func(v float64) bool { return v >= lo && v <= hi }
}
