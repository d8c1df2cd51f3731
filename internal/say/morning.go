package say

import (
	"fmt"
	"math"
	"path"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// morning is what to do with the frames now: what to move, what to keep with a
// weight, and which sub to register the others on.
func morning(r *night.Result, folder string) []string {
	cull, doubtful := 0, 0
	for _, s := range r.Subs {
		switch s.Verdict {
		case subs.Cull:
			cull++
		case subs.Doubtful:
			doubtful++
		}
	}
	var texts []string
	switch {
	case len(r.Subs) == 0:
		return texts
	case cull > 0:
		texts = append(texts, fmt.Sprintf("%s to move aside: fitsqa cull --apply %s (keep a copy of the night; --undo brings them back).", count(cull, "sub"), quoted(frames.Printable(folder))))
	default:
		texts = append(texts, "Nothing to move: no sub takes more than it gives.")
	}
	if doubtful == 1 {
		texts = append(texts, "1\u00a0doubtful sub: keep it, with its weight of subs.csv.")
	} else if doubtful > 0 {
		texts = append(texts, fmt.Sprintf("%s: keep them, with the weights of subs.csv.", count(doubtful, "doubtful sub")))
	}
	if best := references(r); len(best) > 0 {
		texts = append(texts, "Register on "+list(best)+".")
	}
	return texts
}

// quoted is a folder as a shell takes it.
func quoted(folder string) string {
	if folder == "" {
		return "FOLDER" // of the reports, which nobody named
	}
	if strings.ContainsAny(folder, " \t'\"$&;()*?[]\\`|<>#~") {
		return "'" + strings.ReplaceAll(folder, "'", `'\''`) + "'"
	}
	return folder
}

// references are the best sub of each target: the one that gives a stack most of
// what is as small as a star.
func references(r *night.Result) []string {
	best := map[names.Name]*night.Sub{}
	var order []names.Name
	for _, s := range r.Subs {
		if s.Verdict != subs.Keep || s.Field == nil {
			continue
		}
		value := sharpness(s)
		if math.IsNaN(value) {
			continue
		}
		b := best[s.Target]
		if b == nil {
			order = append(order, s.Target)
		}
		if b == nil || value > sharpness(b) {
			best[s.Target] = s
		}
	}
	const most = 3
	if len(order) > most {
		return nil // too many to name; subs.csv has the weights
	}
	var files []string
	for _, target := range order {
		files = append(files, path.Base(best[target].File))
	}
	return files
}

// sharpness orders subs by the depth they give to fine detail.
func sharpness(s *night.Sub) float64 { return s.Weight.V / (s.Field.FWHM.V * s.Field.FWHM.V) }
