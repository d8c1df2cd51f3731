package night

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/frames"
)

func TestAlikeWarningsAreOneLine(t *testing.T) {
	var fs []*frames.Frame
	for i := range 5 {
		f := &frames.Frame{Name: fmt.Sprintf("L_%d.fits", i), Kind: frames.Light}
		f.Warnings = []string{fmt.Sprintf("CAMTEMP = %d can only be kelvin: taken as %.1f °C", 271+i, -2.15+float64(i))}
		fs = append(fs, f)
	}
	fs[3].Warnings = append(fs[3].Warnings, "a light without light")
	fs = append(fs, &frames.Frame{Name: "flat.fits", Kind: frames.Flat, Warnings: []string{"a light without light"}})
	want := []string{
		"5 subs: CAMTEMP = 271 can only be kelvin: taken as -2.1 °C (in L_0.fits)",
		"2 files: a light without light (in L_3.fits)",
	}
	if diff := cmp.Diff(want, alike(fs)); diff != "" {
		t.Error(diff)
	}
}
