package stack

import "fitsqa/internal/fact"

// What was left out of a series. Package say has the words of each.
const (
	LevelsOff       fact.Code = "levels_off"        // files
	UnreadLeftOut   fact.Code = "unread_left_out"   // file
	CopiesLeftOut   fact.Code = "copies_left_out"   // frames, files
	CombinedLeftOut fact.Code = "combined_left_out" // files
)

// Unreadable are the warnings of files that could not be read.
func Unreadable(files []string) []fact.Fact {
	var all []fact.Fact
	for _, f := range files {
		all = append(all, fact.Of(UnreadLeftOut, fact.Text("file", f)))
	}
	return all
}
