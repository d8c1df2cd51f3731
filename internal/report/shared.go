package report

import (
	"slices"
	"strings"
)

// shared gathers the names that words are true of, in the order of the words.
type shared []struct {
	words string
	names []string
}

func (s *shared) add(name, words string) {
	for i, have := range *s {
		if have.words == words {
			if !slices.Contains(have.names, name) {
				(*s)[i].names = append(have.names, name)
			}
			return
		}
	}
	*s = append(*s, struct {
		words string
		names []string
	}{words, []string{name}})
}

func (s shared) texts() []string {
	var texts []string
	for _, one := range s {
		texts = append(texts, strings.Join(one.names, ", ")+": "+one.words)
	}
	return texts
}
