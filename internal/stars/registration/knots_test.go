package registration

import (
	"slices"
	"testing"

	"fitsqa/internal/stars"
)

// What most of the fields that tell take for a knot is one in the others, too, and what is
// wider than the stars there; where one field of many tells, that is no proof.
func TestKnotsOfMostAreKnotsOfAll(t *testing.T) {
	const star, knot, unknown = 0, 1, 2
	fields, al := make([]*stars.Field, 10), make([]Alignment, 10)
	for i := range fields {
		fields[i] = &stars.Field{Stars: []stars.Star{{Fitted: true, FWHM: 3}, {Fitted: true, FWHM: 6}, {Fitted: true, FWHM: 5}}}
		al[i].Pairs = [][2]int{{star, star}, {knot, knot}}
	}
	tell := func(i int) { fields[i].Stars[knot] = stars.Star{Knot: true} }
	tell(3)
	if got := Knots(fields, al); got != nil {
		t.Errorf("one field tells: %v", got)
	}
	tell(5)
	for i, got := range Knots(fields, al) {
		if told := i == 3 || i == 5; told != (len(got) == 0) || !told && !slices.Equal(got, []int{knot, unknown}) {
			t.Errorf("field %d: %v", i, got)
		}
	}
}
