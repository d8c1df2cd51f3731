package night_test

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// A field of a dozen stars a sub: what a dimmed one lets through is told by them all, though
// it shows too few to be compared with the others, and the clear ones are kept.
func TestLightOfFewStars(t *testing.T) {
	if testing.Short() {
		t.Skip("one night more; TestLightOfSoughtStars of package photometry tells the light of such stars")
	}
	t.Parallel()
	const let = 0.4
	dir := filepath.Join(t.TempDir(), "night")
	truth, err := demo.Write(t.Context(), dir, demo.Scenario{
		Name: "sparse", Seed: 5, Width: 640, Height: 480, Bias: 4, Start: time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
		Stars: 14, SkyMag: 21, Seeing: 2.6, DitherPx: 9, Targets: []demo.Target{{Name: "Heron", RA: 85, Dec: 30}},
		Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 12}},
		Clouds: []demo.Cloud{{Span: demo.Span{First: 5, Last: 8}, Magnitudes: -2.5 * math.Log10(let), Flat: true}},
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := night.Run(t.Context(), []string{dir}, night.DefaultSettings(), nil)
	if err != nil {
		t.Fatal(err)
	}
	told, dim := 0, 0
	for _, s := range r.Subs {
		for _, want := range truth.Subs {
			if want.File != s.File {
				continue
			}
			ratio := s.Transparency.Ratio
			if ratio.OK() {
				told++
			}
			if ratio.OK() && !(math.Abs(ratio.V-want.Transparency) < 4*ratio.Err) {
				t.Errorf("%s of %d stars: transparency %v, want %.2f", s.File, want.StarsAbove5, ratio, want.Transparency)
			}
			if want.Transparency > 0.9 && s.Verdict != subs.Keep {
				t.Errorf("%s is clear, and judged %s %v", s.File, s.Verdict, s.Causes)
			}
			if want.Transparency < 0.5 && s.Verdict == subs.Cull {
				dim++
			}
		}
	}
	if told < 11 || dim < 3 {
		t.Errorf("of 12 subs the light of %d is told; %d of 4 dimmed ones are culled", told, dim)
	}
}
