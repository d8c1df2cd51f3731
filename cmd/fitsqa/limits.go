package main

import (
	"fmt"

	"fitsqa/internal/decisions"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// limitSets are the sets of limits that --limits chooses from; the settings
// file then changes single ones.
var limitSets = map[string]func() subs.Limits{
	"default": func() subs.Limits { return subs.DefaultLimits },
	"strict":  subs.Strict,
	"lenient": subs.Lenient,
}

func limitsNamed(name string) (subs.Limits, error) {
	choose, ok := limitSets[name]
	if !ok {
		return subs.Limits{}, fmt.Errorf("--limits %q: there are default, strict and lenient", name)
	}
	return choose(), nil
}

// loadDecisions reads the user's own verdicts: those kept in the output folder,
// then those of a file, if one is named.
func loadDecisions(outdir, file string) ([]subs.Decision, error) {
	all, err := decisions.Of(outdir)
	if err != nil || file == "" {
		return all, err
	}
	more, err := decisions.Load(file)
	return append(all, more...), err
}

// keepDecisions writes the decisions of a file that was named beside the
// reports, so that cull and review know of them.
func keepDecisions(outdir, file string, r *night.Result) error {
	if file == "" {
		return nil
	}
	kept, err := decisions.Of(outdir)
	if err != nil {
		return err
	}
	for _, s := range r.Subs {
		if s.Decision == "" {
			continue
		}
		content, err := frames.Fingerprint(s.Frame.Path)
		if err != nil {
			content = "" // by its name, then
		}
		kept = decisions.With(kept, subs.Decision{Verdict: s.Decision, Name: s.File, Content: content})
	}
	return decisions.Save(outdir, kept)
}
