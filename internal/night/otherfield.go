package night

import (
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stars/tie"
)

const (
	fewestOther = 3  // subs that prove a field: two may be alike by chance
	provingPeak = 12 // stars that a sub needs to prove anything
)

// partFields gives subs that bear the name of a target but by their stars show
// another field a name and stacks of their own, so that nothing of them is
// compared with the target's: neither settings nor exposure, width or light. The
// proof is that they cannot be tied to the others and can be tied to each other;
// what can be tied to nothing proves nothing, it may be cloud.
func (r *Result) partFields(known *memory) {
	stacks := len(r.Sorted.Stacks)
	for _, same := range sameFields(r.Subs) {
		for field := 2; ; field++ {
			other := otherField(same)
			if other == nil {
				break
			}
			if rest := without(same, other); len(rest) < len(other) {
				other = rest // the name stays with the most
			}
			name := names.Name(strings.TrimSpace(fmt.Sprintf("%s field %d", other[0].Target, field)))
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s named %s show another field than the target's other subs, by their stars: compared among themselves, as %s",
				plural(len(other), "sub"), quoted(other[0].Target), quoted(name)))
			stacks = rename(other, name, stacks)
			known.tie(other)
			if same = without(same, other); !slices.ContainsFunc(same, func(s *Sub) bool { return s.Align.Matched() }) {
				known.tie(same) // the others held the reference
			}
		}
	}
}

func quoted(n names.Name) string {
	if n == "" {
		return "after no target"
	}
	return frames.Printable(string(n))
}

// otherField are the subs of one name that are tied to each other and not to the
// rest; nil when there are none.
func otherField(same []*Sub) []*Sub {
	var loose []*Sub
	for _, s := range same {
		if !s.Align.Matched() && s.Field.Count >= provingPeak {
			loose = append(loose, s)
		}
	}
	if len(loose) < fewestOther || len(loose) == len(same) {
		return nil
	}
	alignments, _ := tie.Align(fields(loose))
	var tied []*Sub
	for i := range alignments {
		if alignments[i].Matched() {
			tied = append(tied, loose[i])
		}
	}
	if len(tied) < fewestOther {
		return nil
	}
	return tied
}

// without are the subs of a list that are not among others.
func without(list, others []*Sub) []*Sub {
	return slices.DeleteFunc(slices.Clone(list), func(s *Sub) bool { return slices.Contains(others, s) })
}

// rename gives subs another target, and for each of their stacks a new one,
// numbered from next on; it returns the number after the last.
func rename(all []*Sub, name names.Name, next int) int {
	of := map[int]int{}
	for _, s := range all {
		if _, ok := of[s.Stack]; !ok {
			of[s.Stack] = next
			next++
		}
		s.Target, s.Stack = name, of[s.Stack]
	}
	return next
}
