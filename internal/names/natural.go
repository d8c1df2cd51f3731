package names

import (
	"cmp"
	"strings"
)

// Natural orders texts as people count: numbers in them by value, so that 2
// comes before 10. Equal values of different length ("01", "1") and texts that
// are alike otherwise are ordered letter by letter.
func Natural(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		p, q := digits(x), digits(y)
		if p > 0 && q > 0 {
			u, v := strings.TrimLeft(x[:p], "0"), strings.TrimLeft(y[:q], "0")
			if c := cmp.Or(cmp.Compare(len(u), len(v)), strings.Compare(u, v)); c != 0 {
				return c
			}
			x, y = x[p:], y[q:]
			continue
		}
		if x[0] != y[0] {
			return cmp.Compare(x[0], y[0])
		}
		x, y = x[1:], y[1:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), strings.Compare(a, b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
