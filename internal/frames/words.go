package frames

import (
	"strings"
	"unicode"
)

// words parts a name into lower-case words, at everything that is no letter
// and where a capital follows a small letter. Digits part words too, so that
// "Dark300s" is a dark; a text of digits alone is one word.
func words(text string) []string {
	var list []string
	var w []rune
	flush := func() {
		if len(w) > 0 {
			list = append(list, strings.ToLower(string(w)))
		}
		w = w[:0]
	}
	if isDigits(text) {
		return []string{text}
	}
	for _, r := range text {
		if !unicode.IsLetter(r) || unicode.IsUpper(r) && len(w) > 0 && unicode.IsLower(w[len(w)-1]) {
			flush()
		}
		if unicode.IsLetter(r) {
			w = append(w, r)
		}
	}
	flush()
	return list
}
