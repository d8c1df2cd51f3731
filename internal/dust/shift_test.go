package dust

import (
	"math"
	"testing"
)

// Dust that moved by less than a cell of the pictures (4 px) leaves no imprint that stands
// out by itself; what all shadows leave together tells it. Within a pixel it lies where it did.
func TestShortShiftIsFound(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		for _, by := range []float64{0.7, 2, 3} {
			n := small(50 + seed)
			dx, dy := by*math.Cos(float64(seed)), by*math.Sin(float64(seed))
			n.sub = moved(n.flat, 0, dx, dy, 1)
			d := Compare(n.input())
			if d.Bad() != (by >= 2) {
				t.Errorf("moved by %.1f px: %v", by, d.Found)
				continue
			}
			// What is vouched for is no more than what would have been told.
			if !d.Bad() && !(d.WithinPx > by && d.WithinPx <= 2) {
				t.Errorf("moved by %.1f px: said to lie within %.1f", by, d.WithinPx)
			}
			for _, m := range d.Shadows {
				if m.wrong() && m.Why.Code != "" {
					t.Errorf("a shadow %s, yet %v", m.State, m.Why)
				}
			}
			// An eighth of a cell: eight nights were at most 0.2 px off.
			if off := math.Hypot(d.ShiftX.V-dx, d.ShiftY.V-dy); d.Bad() && off > 0.5 {
				t.Errorf("moved by %.2f, %.2f px: said %v, %v", dx, dy, d.ShiftX, d.ShiftY)
			}
		}
	}
}
