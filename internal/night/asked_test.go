package night

import (
	"slices"
	"testing"
	"time"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Where a field shows many stars, only the subs are looked at once more that point to a known
// place and whose light is not told, and those that tell what its stars are like.
func TestAskedInARichField(t *testing.T) {
	rich := func(tied, told bool, minute int) *Sub {
		f := &stars.Field{Count: 120, FWHM: stats.Known(3, 0.05, 80)}
		for i := range 60 {
			f.Stars = append(f.Stars, stars.Star{X: float64(10 * i), Y: 50, Flux: 1e4, SNR: 50, FWHM: 3, Fitted: true})
		}
		s := &Sub{Sub: &subs.Sub{Field: f, Start: time.Date(2026, 3, 14, 20, minute, 0, 0, time.UTC), Exposure: 60}}
		s.Align.ShiftX, s.Align.ShiftY = stats.Missing("not tied"), stats.Missing("not tied")
		if tied {
			s.Align.ShiftX, s.Align.ShiftY = stats.Known(0, 0.1, 50), stats.Known(0, 0.1, 50)
		}
		s.Transparency = photometry.Transparency{Ratio: stats.Missing("too few stars")}
		if told {
			s.Transparency.Ratio = stats.Known(1, 0.01, 50)
		}
		return s
	}
	var group []*Sub
	for i := range 12 {
		group = append(group, rich(i != 7, i != 7, i))
	}
	if w := whoseLight(group); w != nil {
		t.Errorf("an untied sub has %v looked at", w.asked)
	}
	group[4] = rich(true, false, 4)
	if w := whoseLight(group); w == nil || !slices.Contains(w.asked, 4) || slices.Contains(w.asked, 7) || len(w.asked) > 1+soughtMates {
		t.Errorf("tied without light told: %+v", w)
	}
}
