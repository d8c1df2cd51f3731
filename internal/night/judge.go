package night

import (
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/subs"
)

// judged is the part of every sub that package subs judges.
func (r *Result) judged() []*subs.Sub {
	all := make([]*subs.Sub, len(r.Subs))
	for i, s := range r.Subs {
		all[i] = s.Sub
	}
	return all
}

// combineFields makes the field map of each group's kept subs.
func (r *Result) combineFields() {
	for _, g := range r.Verdicts.Groups {
		var kept []*stars.Field
		for _, s := range g.Subs {
			if s.Verdict == subs.Keep && s.Field != nil {
				kept = append(kept, s.Field)
			}
		}
		f := FieldReport{Group: g.Label, Notes: []fact.Fact{fact.Of(stars.NoMapKept)}}
		if len(kept) > 0 {
			f.Map, f.Findings, f.Notes = figures.Combine(kept)
		}
		r.Fields = append(r.Fields, f)
	}
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
