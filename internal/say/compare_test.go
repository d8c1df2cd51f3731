package say

import (
	"strings"
	"testing"

	"fitsqa/internal/compare"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

func compared(t *testing.T, first, second compare.Group) string {
	t.Helper()
	var b strings.Builder
	if err := Compared(&b, compare.Of(compare.Side{Name: "a", Groups: []compare.Group{first}}, compare.Side{Name: "b", Groups: []compare.Group{second}})); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Of one filter nothing is said of a line apart; of two, and of what is not known, it is.
// A zero point 0.3 mag fainter passes 10^(-0.4 × 0.3) = 0.7586 of the light, a quarter of
// the variance doubles the signal to noise.
func TestCompared(t *testing.T) {
	of := func(filter names.Name, zero, noise stats.Value) compare.Group {
		return compare.Group{Target: "Heron Nebula", Filter: filter, Subs: 9, ZeroPoint: zero, Noise: noise}
	}
	bright, loud := stats.Known(20, 0.01, 50), stats.Known(0.4, 0.004, 9)
	faint, quiet := stats.Known(19.7, 0.01, 50), stats.Known(0.1, 0.001, 9)
	if text := compared(t, of("Ha", bright, loud), of("Ha", faint, quiet)); !strings.Contains(text, "the right passes 0.7586 ± 0.0099 of the stars' light") || strings.Contains(text, "a line") {
		t.Errorf("one filter:\n%s", text)
	}
	if text := compared(t, of("L", bright, loud), of("Ha", faint, quiet)); !strings.Contains(text, "for a line that both pass alike: 2.000 ± 0.014 times the signal to noise") {
		t.Errorf("two filters:\n%s", text)
	}
	text := compared(t, of("Ha", bright, stats.Missing("no gain")), of("Ha", stats.Missing("not found"), quiet))
	for _, want := range []string{"how much of the light the right passes cannot be told: not found", "noise in equal time cannot be told: no gain"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q:\n%s", want, text)
		}
	}
}
