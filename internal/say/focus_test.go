package say

import (
	"strings"
	"testing"
	"time"

	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// A focus that was lost at once needs no more frequent focusing: what slipped is told to be
// looked for. One that drifts is told how often.
func TestFocusRemedy(t *testing.T) {
	for want, d := range map[string]subs.FocusDrift{
		"Look for what slipped": {Sudden: true, RefocusMinutes: stats.Missing(subs.FocusJumped)},
		"Refocus every 40":      {RefocusMinutes: stats.Known(41, 4, 14)},
	} {
		d.Since = time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)
		if got := (&Trouble{}).focus(&night.Result{}, &d, clock{}); !strings.Contains(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
