package say

import (
	"math"
	"strings"
	"testing"

	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// What the season makes of a night stands on its first screen: hours of the best night,
// how soft, how deep.
func TestNightBesideItsSeason(t *testing.T) {
	g := &subs.Group{Target: "T", Filter: "L", Season: subs.NoSeason("no other night of this target is known"), UsableSeconds: 5868, EquivalentClearSeconds: 5868}
	r := &night.Result{Verdicts: &subs.Result{Groups: []*subs.Group{g}}}
	if a := Of(r, ""); a.Less != "" || a.Poor != "" || a.Depth != "" {
		t.Errorf("of a first night: %+v", a)
	}
	know := func(v float64) stats.Value { return stats.Known(v, math.NaN(), 9) }
	s := &g.Season
	s.Light, s.Share, s.Clear, s.Best = know(0.46), know(0.21), know(1224), "2025-08-20"
	s.FWHM, s.BestFWHM, s.SkyMag, s.Limit = know(6.5), know(3.1), know(18.94), know(19.32)
	g.Poor = []subs.Cause{subs.Soft}
	a := Of(r, "")
	for _, c := range []struct{ got, want string }{
		{a.Less, "The 1\u00a0h 38\u00a0min of this night's best sky in L make the stack of 20\u00a0min of your best night, 2025-08-20: its air and optics passed 46\u00a0% of that night's light."},
		{a.Poor, "Poor as a whole: the subs of T L (FWHM 6.5″, the season's sharpest quarter has 3.1″) are soft"},
		{a.Depth, "L had a sky of 18.9\u00a0mag/arcsec² and a stack that reaches stars of 19.3\u00a0mag."},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	g.Target, g.Filter = "", ""
	if got := Of(r, "").Depth; !strings.HasPrefix(got, "(no target) had a sky") {
		t.Errorf("without names: %q", got)
	}
}
