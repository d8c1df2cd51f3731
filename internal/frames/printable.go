package frames

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Printable makes text from a file name or a header safe to show: control
// characters (terminal escapes among them), invalid UTF-8 and invisible
// formatting such as right-to-left overrides come out as Go escapes like \x1b
// or \u202e. Everything else, accents, Greek and no-break spaces included, stays
// as it is.
func Printable(s string) string {
	clean := true
	for _, r := range s {
		if r == utf8.RuneError || !shown(r) {
			clean = false
			break
		}
	}
	if clean {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			const hex = "0123456789abcdef"
			b.WriteString(`\x`)
			b.WriteByte(hex[s[i]>>4])
			b.WriteByte(hex[s[i]&15])
		case shown(r):
			b.WriteRune(r)
		default:
			q := strconv.QuoteRuneToASCII(r)
			b.WriteString(q[1 : len(q)-1])
		}
		i += n
	}
	return b.String()
}

// shown tells what a terminal shows as one sees it.
func shown(r rune) bool { return unicode.IsPrint(r) || r == '\u00a0' }
