package plan

import "fitsqa/internal/names"

// UsualFilter is the filter that a name is a usual one of, a bandwidth in it left out.
func UsualFilter(name names.Name) (f names.Filter, usual bool) {
	return names.Name(nanometres.ReplaceAllString(string(name), "")).Filter()
}

// passesAll tells that a filter's name is none of a colour or of a line.
func passesAll(filter names.Name) bool {
	f, usual := UsualFilter(filter)
	return !usual || f.All()
}
