// Package names tells when two names that observers gave to a target, a filter
// or a camera are one: "Heron Nebula", "heron nebula" and "Heron_Nebula" are.
//
// Letter case and the blanks, hyphens and underscores between words do not
// matter; between two digits they do ("12-1" is not "121"), though not which of
// them it is. That observers vary just these is common practice, no source. What filters
// are usually called stands here, too.
package names

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Name is a name as it is shown. package frames gives all frames of a scan one
// spelling of each, the first written, so that names of one scan are the same
// exactly when they are equal. Names from elsewhere (settings, the ledger) are
// compared by Is or by their keys.
type Name string

// Key is what all spellings of a name have in common.
type Key string

// Key makes the spellings of one name equal. A name of nothing but separators
// is its own key.
func (n Name) Key() Key {
	letters := strings.ToLower(norm.NFKC.String(string(n)))
	var key []rune
	parted := false
	for _, r := range letters {
		if unicode.IsSpace(r) || r == '_' || unicode.Is(unicode.Pd, r) {
			parted = len(key) > 0
			continue
		}
		if parted && unicode.IsDigit(r) && unicode.IsDigit(key[len(key)-1]) {
			key = append(key, ' ')
		}
		key, parted = append(key, r), false
	}
	if len(key) == 0 {
		return Key(strings.TrimSpace(string(n)))
	}
	return Key(key)
}

// Is tells whether two names are spellings of one.
func (n Name) Is(o Name) bool { return n == o || n.Key() == o.Key() }

// First gives every name the spelling that came first.
type First map[Key]Name

// Of is the first spelling of a name; a name seen for the first time is its own.
func (f First) Of(n Name) Name {
	k := n.Key()
	if first, ok := f[k]; ok {
		return first
	}
	f[k] = n
	return n
}
