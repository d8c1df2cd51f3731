package say

import (
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// count is a number with its noun, which no line break parts.
func count(n int, noun string) string {
	return strings.Replace(fact.Plural(n, noun), " ", "\u00a0", 1)
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func list[S ~string](words []S) string {
	parts := make([]string, len(words))
	for i, w := range words {
		parts[i] = frames.Printable(string(w))
	}
	return join(parts)
}

// join is a list in a sentence.
func join(parts []string) string {
	if len(parts) < 3 {
		return strings.Join(parts, " and ")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}
