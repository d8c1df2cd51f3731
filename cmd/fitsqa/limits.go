package main

import (
	"errors"
	"reflect"
	"strings"

	"github.com/spf13/pflag"

	"fitsqa/internal/decisions"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// addLimitFlags binds a flag to every limit of l, named as its key in the
// configuration file; what l holds already is the default.
func addLimitFlags(fs *pflag.FlagSet, l *subs.Limits) {
	v := reflect.ValueOf(l).Elem()
	for i := range v.NumField() {
		if p, ok := v.Field(i).Addr().Interface().(*float64); ok {
			tag := v.Type().Field(i).Tag
			fs.Float64Var(p, strings.ReplaceAll(tag.Get("toml"), "_", "-"), *p, tag.Get("help"))
		}
	}
}

// presetFlags choose a set of limits that the configuration file and single
// flags then change.
type presetFlags struct{ strict, lenient bool }

func (p *presetFlags) addFlags(fs *pflag.FlagSet) {
	fs.BoolVar(&p.strict, "strict", p.strict, "limits for nights with more subs than needed: cull what is doubtful by default")
	fs.BoolVar(&p.lenient, "lenient", p.lenient, "limits for nights that are hard to come by: cull only what spoils the stack")
}

func (p *presetFlags) limits() (subs.Limits, error) {
	switch {
	case p.strict && p.lenient:
		return subs.Limits{}, errors.New("--strict and --lenient exclude each other")
	case p.strict:
		return subs.Strict(), nil
	case p.lenient:
		return subs.Lenient(), nil
	}
	return subs.DefaultLimits, nil
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
func keepDecisions(o checkOptions, r *night.Result) error {
	if o.decisions == "" {
		return nil
	}
	kept, err := decisions.Of(o.out)
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
	return decisions.Save(o.out, kept)
}
