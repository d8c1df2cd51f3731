package night

import (
	"fmt"
	"regexp"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// alike sums up what is warned of single files: warnings that differ in numbers
// only are one line with a count and an example.
func alike(fs []*frames.Frame) []string {
	type kind struct {
		files map[frames.Kind]int
		n     int
		text  string
		file  string
	}
	of := map[string]*kind{}
	var kinds []*kind
	for _, f := range fs {
		for _, text := range f.Warnings {
			mask := anyNumber.ReplaceAllString(text, "#")
			k := of[mask]
			if k == nil {
				k = &kind{files: map[frames.Kind]int{}, text: text, file: f.Name}
				of[mask] = k
				kinds = append(kinds, k)
			}
			k.n++
			k.files[f.Kind]++
		}
	}
	var lines []string
	for _, k := range kinds {
		if k.n == 1 {
			lines = append(lines, k.file+": "+k.text)
			continue
		}
		lines = append(lines, fmt.Sprintf("%s: %s (in %s)", filesOf(k.files, k.n), k.text, frames.Printable(k.file)))
	}
	return lines
}

var anyNumber = regexp.MustCompile(`[-+]?[0-9][0-9.,:T-]*`)

var kindNouns = map[frames.Kind]string{frames.Light: "sub", frames.Bias: "bias frame", frames.Dark: "dark", frames.Flat: "flat"}

// filesOf counts files by their kind where they share one.
func filesOf(kinds map[frames.Kind]int, n int) string {
	if len(kinds) == 1 {
		for kind := range kinds {
			if noun := kindNouns[kind]; noun != "" {
				return fact.Plural(n, noun)
			}
		}
	}
	return fact.Plural(n, "file")
}
