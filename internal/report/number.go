package report

import (
	"math"
	"strconv"
	"strings"
	"time"

	"fitsqa/internal/stats"
)

// number writes v with six significant digits and without an exponent as long
// as twelve decimals hold it; "" when v is not finite.
func number(v float64) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return ""
	case v == 0:
		return "0"
	}
	magnitude := int(math.Floor(math.Log10(math.Abs(v))))
	if magnitude < -7 || magnitude > 15 {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	s := strconv.FormatFloat(v, 'f', max(0, 5-magnitude), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// decimals writes v with a fixed number of decimals, "-" when it is missing.
func decimals(v float64, n int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	s := strconv.FormatFloat(v, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" { // no negative zero
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// finest is the relative uncertainty below which none is written: the assumptions
// behind a figure are no better, however well it averages.
const finest = 0.0005

// measured writes a figure with its uncertainty, or to four significant digits
// when the uncertainty is not known or finer than the figure can be. "-" when missing.
func measured(v stats.Value) string {
	if v.Err < finest*math.Abs(v.V) {
		return plain(v.V)
	}
	if text := v.PlusMinus(); text != "" {
		return text
	}
	return plain(v.V)
}

// plain writes v with four significant digits, or whole when it is a count.
func plain(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e9 {
		return decimals(v, 0)
	}
	return significant(v, 4)
}

// significant writes v with n significant digits and no exponent where
// twelve decimals suffice.
func significant(v float64, n int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	if v == 0 {
		return "0"
	}
	magnitude := int(math.Floor(math.Log10(math.Abs(v))))
	if magnitude < -8 || magnitude > 12 {
		return strconv.FormatFloat(v, 'g', n, 64)
	}
	return strconv.FormatFloat(v, 'f', max(0, n-1-magnitude), 64)
}

// stamp writes a time as ISO 8601 UTC to the millisecond, "" when unknown.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.999Z07:00")
}

// exposureWords writes an exposure in seconds as people do: 300, 2.5, 0.001.
func exposureWords(s float64) string {
	if s == math.Trunc(s) {
		return decimals(s, 0)
	}
	return significant(s, 3)
}
