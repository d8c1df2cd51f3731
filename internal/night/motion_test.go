package night

import (
	"strings"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

func TestMotionWords(t *testing.T) {
	name := func(i int) string { return "sub_7" }
	m := stars.Motion{Dither: stats.Known(0.5, 0.1, 20), Drift: stats.Known(6, 0.2, 20), Rotation: stats.Known(0.1, 0.01, 20), Jumps: []int{7}}
	if got := strings.Join(motionWords(m, name), "; "); !strings.Contains(got, "drawn out into streaks") || !strings.Contains(got, "jumped before sub_7") {
		t.Errorf("drift without dither: %q", got)
	}
	m.Dither, m.Jumps = stats.Known(8, 0.5, 20), nil
	if got := motionWords(m, name); len(got) != 1 {
		t.Errorf("dithered: %q", got)
	}
	if got := motionWords(stars.Motion{Drift: stats.Missing("no times")}, name); got != nil {
		t.Errorf("not measured: %q", got)
	}
}
