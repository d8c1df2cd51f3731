package stack

import (
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Frames of a series that are no exposures of it: copies, and frames that were
// combined from several. Both show in the means of the rows.

// CalmShare is the share of the others' variance under which a frame is none of
// theirs: of two frames, the mean has a half.
const CalmShare = 0.3

// CopiesAmong are the frames whose rows have the very means of an earlier one's:
// by chance no two exposures do.
func CopiesAmong(rows [][]float32) map[int]int {
	of := map[int]int{}
	for i := range rows {
		for k := range i {
			if _, copied := of[k]; !copied && slices.Equal(rows[i], rows[k]) {
				of[i] = k
				break
			}
		}
	}
	return of
}

// calmAmong are the frames whose rows are far less noisy than those of the
// others. The rows of a frame about the mean of n-1 others have its own variance
// and 1/(n-1) of theirs.
func calmAmong(rows [][]float32) []int {
	n := len(rows)
	if n < 4 || len(rows[0]) < 64 {
		return nil
	}
	total := make([]float64, len(rows[0]))
	for _, r := range rows {
		for y, v := range r {
			total[y] += float64(v)
		}
	}
	others := float64(n - 1)
	variance := make([]float64, n)
	rest := make([]float64, len(total))
	for i, r := range rows {
		for y, v := range r {
			rest[y] = float64(v) - (total[y]-float64(v))/others
		}
		s := stats.MADSigma(stats.HighPass(rest))
		variance[i] = s * s
	}
	usual := stats.Median(variance) / (1 + 1/others)
	var calm []int
	for i, v := range variance {
		if v-usual/others < CalmShare*usual {
			calm = append(calm, i)
		}
	}
	if 2*len(calm) >= n {
		return nil
	}
	return calm
}

// ImpostorWarnings are the warnings of frames that were left out as copies, and as
// combined ones.
func ImpostorWarnings(fs []*frames.Frame, copies map[int]int, calm []int) []fact.Fact {
	var warnings []fact.Fact
	var names []string
	for i, f := range fs {
		if k, copied := copies[i]; copied {
			names = append(names, fmt.Sprintf("%s (of %s)", f.Name, fs[k].Name))
		}
	}
	if len(names) > 0 {
		warnings = append(warnings, fact.Of(CopiesLeftOut, fact.Count("frames", len(names)), fact.Text("files", strings.Join(names, ", "))))
	}
	names = nil
	for _, i := range calm {
		names = append(names, fs[i].Name)
	}
	if len(names) > 0 {
		warnings = append(warnings, fact.Of(CombinedLeftOut, fact.Text("files", strings.Join(names, ", "))))
	}
	return warnings
}
