package plate

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"fitsqa/internal/catalogue"
)

// Pixels fall where astropy's gnomonic projection puts them, and back: up to the poles
// and 15 degrees wide. The file is written by crosscheck/plate.py to 1e-9 degrees;
// 2e-9 is its rounding in two coordinates, and back to pixels that is 1e-4 px of the
// narrowest frame, whose pixel is 5e-5 degrees.
func TestReferenceProjections(t *testing.T) {
	text, err := os.ReadFile("../../testdata/reference/plate.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Width  int `json:"width_px"`
		Height int `json:"height_px"`
		Cases  []struct {
			RA       float64      `json:"ra"`
			Dec      float64      `json:"dec"`
			Width    float64      `json:"width_deg"`
			Mirrored bool         `json:"mirrored"`
			Matrix   [4]float64   `json:"matrix_deg_per_px"`
			Pixels   [][2]float64 `json:"pixels"`
			Sky      [][2]float64 `json:"sky"`
		} `json:"cases"`
	}
	if err := json.Unmarshal(text, &file); err != nil || len(file.Cases) < 60 {
		t.Fatal(len(file.Cases), err)
	}
	for _, c := range file.Cases {
		s := &Solution{RA: c.RA, Dec: c.Dec, width: file.Width, height: file.Height, m: c.Matrix}
		s.describe()
		if s.Mirrored != c.Mirrored {
			t.Errorf("%g %g: mirrored %v", c.RA, c.Dec, s.Mirrored)
		}
		for i, p := range c.Pixels {
			ra, dec := s.Sky(p[0], p[1])
			if off := catalogue.Separation(ra, dec, c.Sky[i][0], c.Sky[i][1]); off > 2e-9 {
				t.Errorf("%g %+g, %g° wide: pixel %v at %.9f %.9f, astropy has %v", c.RA, c.Dec, c.Width, p, ra, dec, c.Sky[i])
			}
			x, y, ok := s.pixel(direction(c.Sky[i][0], c.Sky[i][1]), direction(s.RA, s.Dec))
			if !ok || math.Hypot(x-p[0], y-p[1]) > 1e-4 {
				t.Errorf("%g %+g, %g° wide: %v at pixel %.5f %.5f, astropy has %v", c.RA, c.Dec, c.Width, c.Sky[i], x, y, p)
			}
		}
	}
}
