package stats

import (
	"fmt"
	"math"
	"testing"
)

func TestSignificant(t *testing.T) {
	for _, c := range []struct {
		x    float64
		n    int
		want string
	}{
		{60.0000152587891, 4, "60"}, {1.96314102564102, 3, "1.96"}, {-9.96314102564102, 2, "-10"}, {123456, 3, "123000"}, {0.00123456, 2, "0.0012"},
		{0, 4, "0"}, {999.96, 4, "1000"}, {math.NaN(), 4, "NaN"}, {math.Inf(-1), 4, "-Inf"},
	} {
		if got := fmt.Sprint(Significant(c.x, c.n)); got != c.want {
			t.Errorf("%v to %d: %s, want %s", c.x, c.n, got, c.want)
		}
	}
}
