package report

import (
	"math"
	"sort"
	"strings"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

type tally struct {
	Subs      int `json:"subs"`
	Keep      int `json:"keep"`
	Doubtful  int `json:"doubtful"`
	NotJudged int `json:"not_judged"`
	Cull      int `json:"cull"`
}

func (t *tally) add(v subs.Verdict) {
	t.Subs++
	switch v {
	case subs.Keep:
		t.Keep++
	case subs.Doubtful:
		t.Doubtful++
	case subs.Cull:
		t.Cull++
	case subs.NotJudged:
		t.NotJudged++
	}
}

// causeCount is how many subs have a cause, and the seconds lost to it where
// it leads.
type causeCount struct {
	Cause subs.Cause
	Subs  int
	LostS float64
}

// groupSummary is one line of the night's answer.
type groupSummary struct {
	*subs.Group
	tally
	Causes []causeCount // most subs first
}

// filterWords name a group's filter, and what tells the group from others of its target,
// filter and exposure.
func (g groupSummary) filterWords() string {
	return strings.TrimSpace(orNone(g.Filter, "(none)") + " " + frames.Printable(g.Apart))
}

// summary is the counts that every report begins with.
type summary struct {
	Groups      []groupSummary
	Total       tally
	ShotS       float64 // s
	UsableS     float64
	EquivalentS float64
	Kinds       map[frames.Kind]int // readable single frames
	Products    []frames.Products   // among the readable
	Masters     int
	Files       int
	Unusable    []*frames.Frame // with Err
	First, Last time.Time       // start of the first and of the last sub; zero when unknown
	Evenings    [2]string       // dates on which the first and the last night began, as the plan names them; "" when unknown
}

func summarize(r *night.Result) summary {
	s := summary{Kinds: map[frames.Kind]int{}, Files: len(r.Frames)}
	var readable []*frames.Frame
	for _, f := range r.Frames {
		if f.Err == nil {
			readable = append(readable, f)
		}
		switch {
		case f.Err != nil:
			s.Unusable = append(s.Unusable, f)
		case f.Master:
			s.Masters++
		default:
			s.Kinds[f.Kind]++
		}
	}
	s.Products = frames.ProductsOf(readable)
	for _, sub := range r.Subs {
		s.Total.add(sub.Verdict)
		if t := sub.Start; !t.IsZero() {
			if s.First.IsZero() || t.Before(s.First) {
				s.First = t
			}
			if t.After(s.Last) {
				s.Last = t
			}
		}
	}
	if r.Plan != nil && len(r.Plan.Nights) > 0 {
		n := r.Plan.Nights
		s.Evenings = [2]string{n[0].Date, n[len(n)-1].Date}
	}
	if r.Verdicts != nil {
		s.addGroups(r.Verdicts.Groups)
	}
	return s
}

func (s *summary) addGroups(groups []*subs.Group) {
	timed := false // any sub's exposure is known
	for _, g := range groups {
		gs := groupSummary{Group: g, Causes: countCauses(g)}
		for _, sub := range g.Subs {
			gs.add(sub.Verdict)
		}
		s.Groups = append(s.Groups, gs)
		timed = timed || g.ShotSeconds >= 0
		s.ShotS += stats.OrZero(g.ShotSeconds)
		s.UsableS += stats.OrZero(g.UsableSeconds)
		if g.UsableSeconds > 0 && !(g.Minor && math.IsNaN(g.EquivalentClearSeconds)) { // unknown where that of a part is
			s.EquivalentS += g.EquivalentClearSeconds
		}
	}
	if !timed && len(s.Groups) > 0 {
		s.ShotS, s.UsableS, s.EquivalentS = math.NaN(), math.NaN(), math.NaN()
	}
}

func countCauses(g *subs.Group) []causeCount {
	count := map[subs.Cause]int{}
	for _, sub := range g.Subs {
		if sub.Verdict == subs.NotJudged {
			continue // they stand apart
		}
		for _, c := range sub.Causes {
			count[c]++
		}
	}
	var list []causeCount
	for c, n := range count {
		list = append(list, causeCount{Cause: c, Subs: n, LostS: g.LostSeconds[c]})
	}
	sort.Slice(list, func(i, j int) bool {
		if list[i].Subs != list[j].Subs {
			return list[i].Subs > list[j].Subs
		}
		return list[i].Cause < list[j].Cause
	})
	return list
}
