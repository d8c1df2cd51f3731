package night

import (
	"regexp"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// OddFiles are files about which the same is odd.
type OddFiles struct {
	Finding fact.Fact   // of the first of them
	Files   int         // how many
	Kind    frames.Kind // that they share, else Unknown
	First   string      // its name
}

// alike sums up what is warned of single files: warnings that differ in numbers
// only are one, with a count and an example.
func alike(fs []*frames.Frame) []OddFiles {
	var all []OddFiles
	at := map[string]int{}
	for _, f := range fs {
		for _, w := range f.Findings {
			key := withoutNumbers(w)
			i, known := at[key]
			if !known {
				i = len(all)
				at[key] = i
				all = append(all, OddFiles{Finding: w, Kind: f.Kind, First: f.Name})
			}
			all[i].Files++
			if f.Kind != all[i].Kind {
				all[i].Kind = frames.Unknown
			}
		}
	}
	return all
}

var anyNumber = regexp.MustCompile(`[-+]?[0-9][0-9.,:T-]*`)

// withoutNumbers is a finding's code and texts, alike for all that differ in numbers only.
func withoutNumbers(w fact.Fact) string {
	key := string(w.Code)
	for _, v := range w.Values {
		key += "\n" + anyNumber.ReplaceAllString(v.Text, "#")
	}
	return key
}
