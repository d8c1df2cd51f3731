package photometry

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A few subs somewhat wider than most, brighter by what wings and neighbours put into their
// stars, do not tell what is clear; nor do most subs where those are brighter by far.
func TestWiderSubsTellLessWhatIsClear(t *testing.T) {
	for _, c := range []struct{ most, wide, want float64 }{{0.94, 1, 1}, {0.6, 1, 0.6}} {
		var all []Transparency
		var fields []*stars.Field
		add := func(n int, ratio, width float64) {
			for range n {
				all = append(all, Transparency{Ratio: stats.Known(ratio, 0.008*ratio, 100)})
				fields = append(fields, &stars.Field{FWHM: stats.Known(width, 0.02, 100), Ellipticity: stats.Known(0.1, 0.01, 100)})
			}
		}
		add(14, c.most, 3.4)
		add(3, c.wide, 4.3)
		Normalise(all, fields)
		// A hundredth is what the weight of the three leaves of their six.
		if got := all[0].Ratio.V; math.Abs(got-c.want) > 0.01 {
			t.Errorf("most are %.3f with a few at %.1f, want %.2f", got, c.wide, c.want)
		}
	}
}
