package night

import (
	"time"

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

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
