package say

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
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
		texts = append(texts, fmt.Sprintf("%s to move aside: fitsqa cull --apply %s (keep a copy of the night; --undo brings them back).", count(cull, "sub"), Quoted(frames.Printable(folder))))
	default:
		texts = append(texts, "Nothing to move: no sub takes more than it gives.")
	}
	if doubtful > 0 {
		texts = append(texts, fmt.Sprintf("%s: keep %s, with %s in subs.csv.", count(doubtful, "doubtful sub"), verb(doubtful, "it", "them"), verb(doubtful, "its weight", "their weights")))
	}
	if n, culled, seconds := decided(r); n > 0 {
		cost := ""
		if seconds > 0 {
			cost = " (" + duration(seconds) + ")"
		}
		texts = append(texts, fmt.Sprintf("You decided on %s yourself: %d culled%s, %d kept.", count(n, "sub"), culled, cost, n-culled))
	}
	texts = append(texts, elsewhere(r)...)
	texts = append(texts, layers(r)...)
	if best := references(r); len(best) > 0 {
		texts = append(texts, "Register on "+list(best)+".")
	}
	return texts
}

// elsewhere tells of subs that show another field than those of their name: each of them is
// good, and none of use where the target was lost, as by a pier flip that failed.
func elsewhere(r *night.Result) []string {
	var texts []string
	for _, w := range r.Warnings {
		if w.Code == night.OtherFieldSub || w.Code == night.OtherFieldSubs {
			texts = append(texts, Fact(w)+"; unless a mosaic was meant, the target was lost.")
		}
	}
	return texts
}

// decided counts the subs of the user's own verdicts, and those culled of them with their
// exposure, which no trouble counts.
func decided(r *night.Result) (n, culled int, seconds float64) {
	for _, s := range r.Subs {
		if s.UserDecision {
			n++
			if s.Verdict == subs.Cull {
				culled++
				seconds += max(0, stats.OrZero(s.Exposure))
			}
		}
	}
	return n, culled, seconds
}

// Where culling costs this share of a weighted stack's signal to noise, and at
// least so many culled subs are only soft, these are worth a stack of their own.
const (
	dear     = 0.10
	softMany = 3
)

// layers names the groups whose soft subs, culled for their stars, hold much of
// the light.
func layers(r *night.Result) []string {
	if r.Verdicts == nil {
		return nil
	}
	alike := map[string]int{}
	for _, g := range r.Verdicts.Groups {
		alike[groupName(g)]++
	}
	var texts []string
	for _, g := range r.Verdicts.Groups {
		name, soft := groupName(g), 0
		if g.Minor {
			continue
		}
		if alike[name] > 1 {
			name += " " + unit(plain(g.Exposure), "s")
		}
		name = strings.TrimSpace(name + " " + frames.Printable(g.Apart))
		for _, s := range g.Subs {
			if s.Verdict == subs.Cull && len(s.Causes) == 1 && s.Causes[0] == subs.Soft && !s.UserDecision {
				soft++
			}
		}
		e := g.Economics
		if soft < softMany || len(g.Poor) > 0 || len(e.Weighted) == 0 || !(e.UserWeighted < (1-dear)*e.Weighted[0]) {
			continue
		}
		texts = append(texts, fmt.Sprintf("%s: culling %d of %d takes %s of the signal to noise; stack the %s apart as a layer of low resolution, for what is faint and wide.",
			name, e.UserDrop, e.Stacked, percent(1-e.UserWeighted/e.Weighted[0]), count(soft, "soft one")))
	}
	return texts
}

func groupName(g *subs.Group) string {
	return strings.TrimSpace(targetName(g.Target) + " " + frames.Printable(string(g.Filter)))
}

// targetName is a target as tables have it too, where neither header nor folder names one.
func targetName(n names.Name) string {
	if n == "" {
		return "(no target)"
	}
	return frames.Printable(string(n))
}

// Quoted is a folder as a shell takes it.
func Quoted(folder string) string {
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
	best, of := map[names.Name]*night.Sub{}, map[names.Name]int{}
	var order []names.Name
	for _, s := range r.Subs {
		if s.Verdict.Usable() {
			of[s.Target]++
		}
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
	order = slices.DeleteFunc(order, func(target names.Name) bool { return of[target] < 2 }) // nothing to register
	const most = 3
	if len(order) > most {
		return nil // too many to name; subs.csv has the weights
	}
	called := map[string]int{}
	for _, s := range r.Subs {
		called[path.Base(s.File)]++
	}
	var files []string
	for _, target := range order {
		file := best[target].File
		if name := path.Base(file); called[name] == 1 { // else another folder has one of the name
			file = name
		}
		files = append(files, file)
	}
	return files
}

// sharpness orders subs by the depth they give to fine detail.
func sharpness(s *night.Sub) float64 { return s.Weight.V / (s.Field.FWHM.V * s.Field.FWHM.V) }
