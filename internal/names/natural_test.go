package names

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestNaturalOrder(t *testing.T) {
	want := []string{"", "L_1.fits", "L_2.fits", "L_10.fits", "L_0010.fit", "M131/a", "M1310/a", "a", "a/2/1", "a/2/9", "a/10/1"}
	// Equal values, different length: letter by letter, the longer of more zeros first.
	want[3], want[4] = "L_0010.fit", "L_10.fits"
	rng := rand.New(rand.NewPCG(3, 3))
	for range 20 {
		got := slices.Clone(want)
		rng.Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
		slices.SortFunc(got, Natural)
		if !slices.Equal(got, want) {
			t.Fatalf("got %q", got)
		}
	}
	if Natural("x12345678901234567890123", "x12345678901234567890124") >= 0 || Natural("a", "a") != 0 || Natural("01", "1") == 0 {
		t.Error("long numbers, equal texts or leading zeros")
	}
	if strings.Compare("M131", "M1310") != Natural("M131", "M1310") {
		t.Error("a prefix comes first")
	}
}
