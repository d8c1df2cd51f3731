package night

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

func TestAlikeWarningsAreOneLine(t *testing.T) {
	var fs []*frames.Frame
	for i := range 5 {
		f := &frames.Frame{Name: fmt.Sprintf("L_%d.fits", i), Kind: frames.Light}
		f.Findings = []fact.Fact{fact.Of(frames.Kelvin, fact.Text("key", "CAMTEMP"), fact.Count("number", 271+i), fact.Number("temp_c", -2.15+float64(i)))}
		fs = append(fs, f)
	}
	fs[3].Findings = append(fs[3].Findings, fact.Of(frames.LightFlat))
	fs = append(fs, &frames.Frame{Name: "flat.fits", Kind: frames.Flat, Findings: []fact.Fact{fact.Of(frames.LightFlat)}})
	want := []OddFiles{
		{fs[0].Findings[0], 5, frames.Light, "L_0.fits"},
		{fact.Of(frames.LightFlat), 2, frames.Unknown, "L_3.fits"},
	}
	if diff := cmp.Diff(want, alike(fs)); diff != "" {
		t.Error(diff)
	}
}
