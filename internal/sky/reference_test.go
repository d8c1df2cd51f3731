package sky

import (
	"encoding/json"
	"os"
	"testing"
	"time"
)

// TestSkyReference holds positions at random sites and times to astropy's with
// its built-in ephemeris; crosscheck/sky.py makes the file.
func TestSkyReference(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/sky.json")
	if err != nil {
		t.Fatal(err)
	}
	var reference struct {
		Cases []struct {
			Lat        float64   `json:"lat"`
			Lon        float64   `json:"lon"`
			Elevation  float64   `json:"elevation_m"`
			UTC        time.Time `json:"utc"`
			RA         float64   `json:"ra_deg"`
			Dec        float64   `json:"dec_deg"`
			SunAlt     float64   `json:"sun_alt"`
			MoonAlt    float64   `json:"moon_alt"`
			MoonLitPct float64   `json:"moon_lit_pct"`
			TargetAlt  float64   `json:"target_alt"`
			Separation float64   `json:"moon_separation"`
		}
	}
	if err := json.Unmarshal(data, &reference); err != nil {
		t.Fatal(err)
	}
	if len(reference.Cases) == 0 {
		t.Fatal("the reference file holds no case")
	}
	for _, c := range reference.Cases {
		got := At(&Site{Lat: c.Lat, Lon: c.Lon, Elevation: c.Elevation}, c.UTC, c.RA, c.Dec)
		at := c.UTC.Format(time.RFC3339)
		// 0.02 degrees: 0.01 of the low-precision Sun (Meeus, chapter 25) or of the
		// target's nutation and aberration, 0.004 of UT1 taken as UTC, and rounding.
		within(t, at+" Sun", got.SunAlt.V, c.SunAlt, 0.02)
		within(t, at+" Moon", got.MoonAlt.V, c.MoonAlt, 0.02)
		within(t, at+" target", got.TargetAlt.V, c.TargetAlt, 0.02)
		within(t, at+" Moon to target", got.MoonSeparation.V, c.Separation, 0.02)
		// 0.1 %: a hundredth of a degree of phase angle at quarter moon is 0.01 %.
		within(t, at+" lit", got.MoonLitPct.V, c.MoonLitPct, 0.1)
	}
}
