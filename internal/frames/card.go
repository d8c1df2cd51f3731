package frames

import (
	"strings"
	"unicode/utf8"
)

const cardLen = 80

// card is one header line, taken apart as far as it goes.
type card struct {
	key     string // upper case; of a HIERARCH card the words after HIERARCH
	value   string // text of the value, without quotes; "" when undefined
	comment string
	quoted  bool // the value was a string
	valued  bool // the card has a value indicator
	long    bool // a HIERARCH card: never a mandatory keyword
	open    bool // a string that ends in &, to be continued
}

// parseCard takes one 80-byte line apart. It never fails: what cannot be
// understood stays text. FITS 4.0 sections 4.1 and 4.2, and the HIERARCH
// convention; leniently also lower-case keywords, a missing blank after the
// equals sign, keywords longer than eight letters, double quotes and strings without
// their closing quote.
func parseCard(line []byte) card {
	s := headerText(line)
	key, rest, valued, long := splitKey(s)
	c := card{key: key, valued: valued, long: long}
	if !valued {
		c.value = strings.TrimRight(rest, " ")
		return c
	}
	rest = strings.TrimLeft(rest, " ")
	switch {
	case rest == "":
	case rest[0] == '\'' || rest[0] == '"':
		c.quoted = true
		c.value, rest = quotedText(rest)
		c.value = strings.TrimRight(c.value, " ")
		c.open = strings.HasSuffix(c.value, "&")
		c.comment = afterSlash(rest)
	default:
		c.value, c.comment = bareValue(rest)
	}
	return c
}

// headerText turns header bytes into a string: Latin-1 unless the bytes are
// UTF-8, with control characters as blanks.
func headerText(line []byte) string {
	plain := true
	for _, b := range line {
		if b < 0x20 || b >= 0x7f {
			plain = false
			break
		}
	}
	if plain {
		return string(line)
	}
	isUTF8 := utf8.Valid(line)
	var b strings.Builder
	for i := 0; i < len(line); {
		r, n := rune(line[i]), 1
		if isUTF8 {
			r, n = utf8.DecodeRune(line[i:])
		}
		if r < 0x20 || r >= 0x7f && r < 0xa0 {
			r = ' '
		}
		b.WriteRune(r)
		i += n
	}
	return b.String()
}

// splitKey parts the keyword from the rest of the line and tells whether the
// line carries a value.
func splitKey(s string) (key, rest string, valued, long bool) {
	key = s
	if len(s) > 8 {
		key, rest = s[:8], s[8:]
	}
	key = strings.ToUpper(strings.TrimSpace(key))
	switch key {
	case "COMMENT", "HISTORY", "CONTINUE", "END", "":
		return key, rest, false, false
	case "HIERARCH":
		if name, value, ok := strings.Cut(rest, "="); ok {
			return strings.ToUpper(strings.Join(strings.Fields(name), " ")), value, true, true
		}
		return key, rest, false, true
	}
	if strings.HasPrefix(rest, "=") {
		return key, rest[1:], true, false
	}
	// "GAIN=1.5": the equals sign came before its column.
	if name, value, ok := strings.Cut(s, "="); ok && isKeyword(name) {
		return strings.ToUpper(strings.TrimSpace(name)), value, true, len(name) > 8
	}
	return key, rest, false, false
}

// isKeyword tells whether a text could be a keyword: letters, digits, hyphen,
// underscore, with blanks only around it.
func isKeyword(s string) bool {
	s = strings.TrimSpace(s)
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !(c|0x20 >= 'a' && c|0x20 <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_') {
			return false
		}
	}
	return s != ""
}

// quotedText reads a string that starts with its quote; a doubled quote stands
// for one. It returns the text and what follows the closing quote.
func quotedText(s string) (text, rest string) {
	quote := s[0]
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		if s[i] != quote {
			b.WriteByte(s[i])
			continue
		}
		if i+1 < len(s) && s[i+1] == quote {
			b.WriteByte(quote)
			i++
			continue
		}
		return b.String(), s[i+1:]
	}
	return b.String(), "" // no closing quote
}

// bareValue parts an unquoted value from the comment after the slash. A legacy
// date without quotes (31/08/93) holds slashes of its own.
func bareValue(s string) (value, comment string) {
	start := 0
	if len(s) >= 8 && s[2] == '/' && s[5] == '/' && isDigits(s[:2]) && isDigits(s[3:5]) && isDigits(s[6:8]) {
		start = 8
	}
	if i := strings.IndexByte(s[start:], '/'); i >= 0 {
		return strings.TrimSpace(s[:start+i]), strings.TrimSpace(s[start+i+1:])
	}
	return strings.TrimSpace(s), ""
}

func afterSlash(s string) string {
	if i := strings.IndexByte(s, '/'); i >= 0 {
		return strings.TrimSpace(s[i+1:])
	}
	return ""
}

func isDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) {
			return false
		}
	}
	return s != ""
}
