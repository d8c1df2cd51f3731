package main

import (
	"errors"
	"fmt"
	"os"
	"reflect"
	"strings"

	"github.com/spf13/pflag"

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

// loadDecisions reads the user's own verdicts.
func loadDecisions(path string) (map[string]subs.Verdict, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("decisions: %w", err)
	}
	defer f.Close()
	decisions, err := subs.ParseDecisions(f)
	if err != nil {
		return nil, fmt.Errorf("decisions %s: %w", path, err)
	}
	return decisions, nil
}
