package frames

import (
	"math"
	"testing"
)

// TestShownOfCopies: copies show the same, with blank pixels at the edge too, whatever
// their headers say; another frame of the camera shows something else.
func TestShownOfCopies(t *testing.T) {
	shown := func(level int, filter string) Shown {
		px := make([]float32, 60*60)
		for i, v := range frame16(level, 20) {
			if px[i] = float32(v); i%60 < 7 || i < 60*5 {
				px[i] = float32(math.NaN())
			}
		}
		return scanBytes(t, "x.fits", fits(-32, []int{60, 60}, px, "FILTER  = '"+filter+"'")).Shown()
	}
	if a, b := shown(500, "L"), shown(500, "R"); a != b {
		t.Errorf("copies show %v and %v", a.look, b.look)
	}
	if a, b := shown(500, "L"), shown(501, "L"); a == b {
		t.Errorf("frames of other levels show the same: %v", a.look)
	}
}
