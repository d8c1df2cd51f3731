package registration

import (
	"math"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// What most of the fields that tell take for stars shows where stars are in those that took
// knots for stars as well; one field that tells will do where the widths in others bear it out,
// and two will not where these do not.
func TestStarsOfMostAreStarsOfAll(t *testing.T) {
	const shift, stars1, knots1 = 7, 3, 4
	for _, c := range []struct {
		tell  int     // fields that do
		times float64 // as wide as the stars, knots in the others
		want  bool
	}{{1, 2, true}, {2, 2, true}, {2, 1.05, false}, {9, 1.05, true}, {0, 2, false}} {
		fields, al := make([]*stars.Field, 12), make([]Alignment, 12)
		for i := range fields {
			f := &stars.Field{FWHM: stats.Known(3, 0.1, stars1)}
			for k := range stars1 + knots1 {
				s := stars.Star{X: float64(100*k + shift*i), Y: 50, Fitted: true, FWHM: 3}
				if k >= stars1 {
					if s.FWHM = 3 * c.times; i < c.tell {
						s = stars.Star{X: s.X, Y: s.Y, Knot: true}
					}
				}
				f.Stars = append(f.Stars, s)
				al[i].Pairs = append(al[i].Pairs, [2]int{k, k})
			}
			fields[i] = f
			al[i].Transform = Transform{A: 1, C: -float64(shift * i), E: 1}
			al[i].ShiftX = stats.Known(0, 0.1, stars1)
		}
		for i, places := range StarPlaces(fields, al) {
			if want := c.want && i >= c.tell; want != (places != nil) {
				t.Errorf("%d of 12 tell, knots %v times: field %d: %v", c.tell, c.times, i, places)
			} else if want && !slices.EqualFunc(places, fields[i].Stars[:stars1], func(at stars.Place, s stars.Star) bool { return math.Hypot(at.X-s.X, at.Y-s.Y) < 1e-9 }) {
				t.Errorf("%d of 12 tell: the stars of field %d are not at %v", c.tell, i, places)
			}
		}
	}
}
