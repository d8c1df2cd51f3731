package say

import "testing"

// One filter is not told of as several, and no filter is none.
func TestFlatsThatLack(t *testing.T) {
	for _, c := range []struct {
		filters []string
		want    string
	}{
		{[]string{""}, "No flats fit: shoot 15 before camera, focus or filter are touched."},
		{[]string{"L"}, "No flats fit for L: shoot 15 before camera, focus or filter are touched."},
		{[]string{"", "L"}, "No flats fit for L and no filter: shoot 15 each before camera, focus or filter are touched."},
	} {
		if got := flatless(c.filters, 15); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if got := begun("the dust moved"); got != "The dust moved" {
		t.Error(got)
	}
}
