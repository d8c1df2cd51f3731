package stats

import (
	"math"
	"testing"
)

// Figures are rounded to the second digit of their uncertainty, as JCGM 100:2008
// asks for in 7.2.6; its example 10,057 62 Ω with 27 mΩ becomes 10,058 ± 0,027.
func TestPlusMinus(t *testing.T) {
	for _, c := range []struct {
		v, err float64
		want   string
	}{
		{10.05762, 0.027, "10.058 ± 0.027"},
		{0.0587, 0.00123, "0.0587 ± 0.0012"},
		{-0.00004, 0.002, "0.0000 ± 0.0020"},
		{1234.5, 87, "1235 ± 87"}, // half away from zero
		{1234.5, 870, "1235 ± 870"},
		{1, 0, ""},
		{1, math.NaN(), ""},
		{1, math.Inf(1), ""},
		{math.NaN(), 1, ""},
	} {
		if got := Known(c.v, c.err, 1).PlusMinus(); got != c.want {
			t.Errorf("%v, %v: %q, want %q", c.v, c.err, got, c.want)
		}
	}
}
