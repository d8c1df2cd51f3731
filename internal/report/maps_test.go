package report

import (
	"strings"
	"testing"

	"fitsqa/internal/calib"
)

func TestFileStemStaysInTheFolder(t *testing.T) {
	for label, want := range map[string]string{
		"dark 300 s -10 °C gain 100": "dark_300_s_-10_C_gain_100",
		"../../etc/passwd":           "_.._etc_passwd",
		"a/b\\c\x00d":                "a_b_c_d",
		"":                           "set",
		"...":                        "set",
		strings.Repeat("x", 300):     strings.Repeat("x", 80),
	} {
		if got := calib.FileStem(label); got != want {
			t.Errorf("calib.FileStem(%q) = %q, want %q", label, got, want)
		}
	}
}
