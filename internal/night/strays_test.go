package night

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Subs that cloud leaves with few sure stars and with detections that no other has prove
// no other field, as sharp and round and many as these are.
func TestCloudedSubsProveNoField(t *testing.T) {
	seen := func(snr float64, tied bool) *Sub {
		f := &stars.Field{Count: 30, FWHM: stats.Known(12, 0.2, 12), Ellipticity: stats.Known(0.1, 0.02, 12), Coherence: stats.Known(0.3, 0.1, 12)}
		for k := range 30 {
			f.Stars = append(f.Stars, stars.Star{SNR: snr * (1 + float64(k)/20)})
		}
		s := &Sub{Sub: &subs.Sub{Filter: "Ha", Field: f}}
		s.Align.ShiftX = stats.Missing("not tied")
		if tied {
			s.Align.ShiftX = stats.Known(0, 0.1, 30)
		}
		return s
	}
	for _, c := range []struct {
		snr  float64
		want int
	}{{10, 1}, {7, 1}, {5.5, 0}, {3, 0}} {
		same := []*Sub{seen(15, true), seen(14, true), seen(16, true), seen(c.snr, false)}
		if got := len(strays(same)); got != c.want {
			t.Errorf("stars of signal to noise %g and more: %d strays, want %d", c.snr, got, c.want)
		}
	}
}
