package night_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// judgement is a row or a column of the confusion matrix.
type judgement struct{ verdict, cause string }

func (j judgement) String() string { return strings.TrimSpace(j.verdict + " " + j.cause) }

func truly(s demo.Sub) judgement {
	j := judgement{verdict: string(s.Class)}
	if len(s.Causes) > 0 {
		j.cause = s.Causes[0]
	}
	return j
}

func judged(s *night.Sub) judgement {
	j := judgement{verdict: string(s.Verdict)}
	if len(s.Causes) > 0 {
		j.cause = string(s.Causes[0])
	}
	return j
}

// confusion counts verdicts by truth.
type confusion map[judgement]map[judgement]int

func (c confusion) add(truth, verdict judgement) {
	if c[truth] == nil {
		c[truth] = map[judgement]int{}
	}
	c[truth][verdict]++
}

// String is the matrix as a table, truths downwards.
func (c confusion) String() string {
	byText := func(a, b judgement) int { return cmp.Compare(a.String(), b.String()) }
	columns := map[judgement]bool{}
	for _, row := range c {
		for v := range row {
			columns[v] = true
		}
	}
	heads := slices.SortedFunc(maps.Keys(columns), byText)
	var b strings.Builder
	fmt.Fprintf(&b, "%-22s", "truth")
	for _, h := range heads {
		fmt.Fprintf(&b, " %16s", h)
	}
	for _, truth := range slices.SortedFunc(maps.Keys(c), byText) {
		fmt.Fprintf(&b, "\n%-22s", truth)
		for _, h := range heads {
			fmt.Fprintf(&b, " %16d", c[truth][h])
		}
	}
	return b.String()
}
