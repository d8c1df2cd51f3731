package say

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"fitsqa/internal/fact"
)

// phrases has the words of every fact: {name} is a text of it, {name %.2f} a number.
var phrases = merged(findingPhrases, groupPhrases)

func merged(tables ...map[fact.Code]string) map[fact.Code]string {
	all := map[fact.Code]string{}
	for _, t := range tables {
		maps.Copy(all, t)
	}
	return all
}

// Codes are the codes of all facts, sorted.
func Codes() []string { return sorted(phrases) }

// Causes are all causes, sorted.
func Causes() []string { return sorted(predicates) }

func sorted[K ~string, V any](table map[K]V) []string {
	var names []string
	for name := range table {
		names = append(names, string(name))
	}
	slices.Sort(names)
	return names
}

var placeholder = regexp.MustCompile(`\{(\w+)(?: (%[^}]+))?\}`)

// Fact puts one fact into words.
func Fact(f fact.Fact) string {
	return placeholder.ReplaceAllStringFunc(phrases[f.Code], func(place string) string {
		parts := placeholder.FindStringSubmatch(place)
		v, ok := f.Value(parts[1])
		switch {
		case !ok:
			return place
		case parts[2] == "":
			return v.Text
		}
		return fmt.Sprintf(parts[2], v.Number)
	})
}

// Facts are put into one sentence, one after the other.
func Facts(all []fact.Fact) string {
	var b strings.Builder
	for _, f := range all {
		b.WriteString(Fact(f))
	}
	return b.String()
}
