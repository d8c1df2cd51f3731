package say

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// phrases has the words of every fact: {name} is a text of it or the words of a
// fact in it, {name %.2f} a number,
// {name #sub} a number of subs, {name <sub} that there are so few or none, {name ±} a number with the error that name_err is,
// {name +} how many more there are, {name ?is:are} the first for one and the second for
// others, {name @} the words of the facts that the text has the codes of, with the same
// values, {name =} a number in plain decimals, {name >2 January 2006} a date (ISO 8601)
// in that layout, {name |none} a text or, where there is none, these words, {name 'none}
// the same with the text in quotes.
var phrases = merged(filePhrases, findingPhrases, groupPhrases, warningPhrases, cameraWarnings, figureNotes, lacksPhrases, fieldPhrases, motionPhrases, placePhrases, dustPhrases, clockPhrases, alertPhrases, idlePhrases, reasons)

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

var placeholder = regexp.MustCompile(`\{(\w+)(?: ([%#<±@+?=>|'][^}]*))?\}`)

// Fact puts one fact into words; a code that has none is said as it is.
func Fact(f fact.Fact) string {
	phrase, ok := phrases[f.Code]
	if !ok {
		return string(f.Code)
	}
	return placeholder.ReplaceAllStringFunc(phrase, func(place string) string { return filled(f, place) })
}

// filled is a place in a phrase with what a fact has for it.
func filled(f fact.Fact, place string) string {
	parts := placeholder.FindStringSubmatch(place)
	v, ok := f.Value(parts[1])
	switch {
	case !ok:
		return place
	case v.Fact != nil:
		return Fact(*v.Fact)
	case parts[2] == "":
		return v.Text
	case parts[2] == "±":
		err, _ := f.Value(parts[1] + "_err")
		return cmp.Or(stats.Known(v.Number, err.Number, 0).PlusMinus(), fmt.Sprintf("%.3g", v.Number))
	case parts[2] == "@":
		return clauses(f, v.Text)
	case parts[2] == "=":
		return strconv.FormatFloat(v.Number, 'f', -1, 64)
	case parts[2][0] == '>':
		date, _ := time.Parse(time.DateOnly, v.Text)
		return date.Format(parts[2][1:])
	case v.Text == "" && (parts[2][0] == '|' || parts[2][0] == '\''):
		return parts[2][1:]
	case parts[2][0] == '|':
		return v.Text
	case parts[2][0] == '\'':
		return strconv.Quote(v.Text)
	case parts[2][0] == '?':
		one, many, _ := strings.Cut(parts[2][1:], ":")
		if v.Number == 1 {
			return one
		}
		return many
	case parts[2] == "+" && v.Number == 0:
		return ""
	case parts[2] == "+":
		return fmt.Sprintf(" and %.0f more", v.Number)
	case parts[2][0] == '#':
		return fact.Plural(int(v.Number), parts[2][1:])
	case parts[2][0] == '<' && v.Number == 0:
		return "no " + parts[2][1:]
	case parts[2][0] == '<':
		return "only " + fact.Plural(int(v.Number), parts[2][1:])
	}
	return fmt.Sprintf(parts[2], v.Number)
}

// each fact is a sentence of its own.
func each(all []fact.Fact) []string {
	var texts []string
	for _, f := range all {
		texts = append(texts, Fact(f))
	}
	return texts
}

// Facts are put into one sentence, one after the other.
func Facts(all []fact.Fact) string {
	var b strings.Builder
	for _, f := range all {
		b.WriteString(Fact(f))
	}
	return b.String()
}

func clauses(f fact.Fact, codes string) string {
	var parts []string
	for _, code := range strings.Fields(codes) {
		parts = append(parts, Fact(fact.Of(fact.Code(code), f.Values...)))
	}
	return strings.Join(parts, "; ")
}
