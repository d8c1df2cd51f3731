package say

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"fitsqa/internal/stats"
)

// minus is the sign that typesetters use; a hyphen is shorter and breaks lines.
const minus = "−"

// number writes x with n decimals and a true minus sign.
func number(x float64, n int) string {
	s := strconv.FormatFloat(x, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", minus, 1)
}

// plain writes x with two significant digits at most, and none that are 0.
func plain(x float64) string {
	text := rough(x)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// rough writes x with two significant digits, without an exponent.
func rough(x float64) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return number(x, 0)
	}
	places := 1 - int(math.Floor(math.Log10(math.Abs(x))))
	unit := math.Pow(10, float64(places))
	return number(math.Round(x*unit)/unit, max(0, places))
}

// unit is a number and its unit, which no line break parts.
func unit(number, unit string) string {
	if unit == "" || unit == "°" {
		return number + unit
	}
	return number + "\u00a0" + unit
}

// Typeset sets a sentence that another package worded as those of this one are
// set: a true minus sign, no exponents, numbers and units on one line. Names of
// files, which can hold anything, stay as they are.
func Typeset(text string) string {
	var b strings.Builder
	from := 0
	for _, name := range fileName.FindAllStringIndex(text, -1) {
		b.WriteString(setNumbers(text[from:name[0]]))
		b.WriteString(text[name[0]:name[1]])
		from = name[1]
	}
	b.WriteString(setNumbers(text[from:]))
	return b.String()
}

func setNumbers(text string) string {
	text = exponent.ReplaceAllStringFunc(text, func(s string) string {
		if x, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(x) < 1e9 {
			return strconv.FormatFloat(x, 'f', -1, 64)
		}
		return s
	})
	text = negativeZero.ReplaceAllString(text, "${1}${2}${3}")
	text = negative.ReplaceAllString(text, "${1}"+minus+"${2}")
	return quantity.ReplaceAllString(text, "${1}\u00a0${2}")
}

var (
	fileName     = regexp.MustCompile(`(?i)[^:;,(]*\.fits?(\.\w+)?`) // as far back as a name can be thought to reach
	exponent     = regexp.MustCompile(`\b\d+(\.\d+)?e[+-]\d\d\b`)
	negativeZero = regexp.MustCompile(`(^|[ (±])-(0(?:\.0+)?)([^.\d]|$)`)
	negative     = regexp.MustCompile(`(^|[ (±]|\bUTC)-(\d)`)
	quantity     = regexp.MustCompile(`(\d) (%|°C|°/h|″|e-|(?:px|s|h|min|ADU|ADU²|mag|mm|µm|nm|km|m|arcsec|stops|subs?|darks?|flats?|frames?)\b)`)
)

// Duration of so many seconds as people say it, for reports.
func Duration(s float64) string { return duration(s) }

// duration of so many seconds as people say it.
func duration(s float64) string {
	minutes := int(math.Round(s / 60))
	switch {
	case s < 90 && s != 60:
		return unit(number(s, 0), "s")
	case minutes < 60:
		return unit(strconv.Itoa(minutes), "min")
	case minutes%60 == 0:
		return unit(strconv.Itoa(minutes/60), "h")
	}
	return fmt.Sprintf("%d\u00a0h %02d\u00a0min", minutes/60, minutes%60)
}

// setTime is an exposure as it is set.
func setTime(s float64) string { return unit(fmt.Sprint(stats.Significant(s, 4)), "s") }

// roughTime has two significant digits: more would pretend to precision.
func roughTime(s float64) string { return unit(plain(s), "s") }

// percent of a share, with the digits that matter.
func percent(share float64) string {
	p := 100 * share
	if a := math.Abs(p); a > 0 && a < 0.95 {
		return unit(number(p, int(math.Ceil(-math.Log10(a)))), "%")
	}
	return unit(number(p, 0), "%")
}

func or[S ~string](s S, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return string(s)
}

// span is two numbers of one unit, or one where they are alike.
func span(low, high float64, places int, of string) string {
	a, b := number(low, places), number(high, places)
	if a == b {
		return unit(a, of)
	}
	return a + " to " + unit(b, of)
}

// noisePct is percents of the noise with as many digits as they deserve.
func noisePct(v float64) string {
	switch a := math.Abs(v); {
	case a < 0.05:
		return "under 0.1 %"
	case a < 9.5:
		return fmt.Sprintf("%.1f %%", v)
	}
	return fmt.Sprintf("%.0f %%", v)
}

func signed(v float64) string {
	if math.Abs(v) < 0.05 {
		return "0.0 %"
	}
	return strings.Replace(fmt.Sprintf("%+.1f %%", v), "-", "−", 1)
}

func hotPixels(n float64) string {
	if n < 1.5 {
		return "1 hot pixel"
	}
	digits := math.Pow(10, math.Max(0, math.Floor(math.Log10(n))-1))
	return fmt.Sprintf("%.0f hot pixels", math.Round(n/digits)*digits)
}

// seconds of an exposure, in hours where they are many.
func seconds(s float64) string {
	if s >= 7200 {
		return fmt.Sprintf("%.1f h", s/3600)
	}
	return strconv.FormatFloat(math.Round(10*s)/10, 'f', -1, 64) + " s"
}

func twoDigits(v float64) string {
	if math.Abs(v) >= 9.95 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.2g", v)
}
