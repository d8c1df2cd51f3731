package say

import (
	"strings"
	"testing"

	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// Dew that a cloud would look like is told as either, with a remedy for each.
func TestDewOrCloud(t *testing.T) {
	for causes, want := range map[string]string{"dewed": "heat them", "dewed cloud": "else wait for the sky"} {
		s := &night.Sub{Sub: &subs.Sub{}}
		for _, c := range strings.Fields(causes) {
			s.Causes = append(s.Causes, subs.Cause(c))
		}
		dew := Trouble{Cause: subs.Dewed, Subs: []*night.Sub{s}}
		if got := dew.remedy(); !strings.HasSuffix(got, want) {
			t.Errorf("%s: %q", causes, got)
		}
	}
}
