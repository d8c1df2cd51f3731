package decisions

import (
	"path/filepath"

	"fitsqa/internal/cull"
	"fitsqa/internal/frames"
	"fitsqa/internal/subs"
)

// Apply sets the Decision of a night's subs and returns the decisions that are
// on none of them. A file that was moved aside is found there.
func Apply(night []cull.Sub, all []subs.Decision) (unmatched []subs.Decision) {
	names := make([]string, len(night))
	for i, s := range night {
		if names[i] = s.Name; s.Name == "" {
			names[i] = s.Path
		}
	}
	of, unmatched := subs.MatchDecisions(all, names, func(i int) string { return Content(night[i].Path) })
	for i, v := range of {
		night[i].Decision = string(v)
	}
	return unmatched
}

// Content is the fingerprint of a night's file where it was, or where a cull
// moved it; "" when neither can be read.
func Content(path string) string {
	for _, p := range []string{path, filepath.Join(filepath.Dir(path), cull.Folder, filepath.Base(path))} {
		if f, err := frames.Fingerprint(p); err == nil {
			return f
		}
	}
	return ""
}
