package stats

import "testing"

// Small, just large enough to be asked for in huge pages, and odd sizes: all of
// it is there, is zero and can be written.
func TestFloats(t *testing.T) {
	for _, n := range []int{0, 1, 2 << 20, 2<<20 + 1, 5<<20 + 3} {
		s := Floats(n)
		if len(s) != n {
			t.Fatalf("%d numbers, want %d", len(s), n)
		}
		for i := range s {
			if s[i] != 0 {
				t.Fatalf("number %d of %d is %g", i, n, s[i])
			}
			s[i] = float32(i)
		}
	}
}
