package plan

import "fitsqa/internal/names"

// passesAll tells that a filter's name is none of a colour or of a line (names in
// general use; common practice, no source).
func passesAll(filter names.Name) bool {
	name := names.Name(nanometres.ReplaceAllString(string(filter), "")).Key()
	for _, narrower := range []names.Key{"r", "g", "b", "red", "green", "blue",
		"ha", "halpha", "hα", "h2", "hbeta", "hb", "oiii", "o3", "sii", "s2", "nii"} {
		if name == narrower {
			return false
		}
	}
	return true
}
