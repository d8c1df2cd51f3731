package photometry

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Sought stars tell a field's light by all of them, whether they can be seen there or not;
// half of them gone beside clear ones is a cover. The field that showed them, whose noise
// has raised some, tells nothing of how bright they are.
func TestLightOfSoughtStars(t *testing.T) {
	const n = 12
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 11))
		star := []float64{1500, 900, 800, 700, 60}
		through := make([]float64, n)
		light := make([]*Light, n)
		fields := make([]*stars.Field, n)
		for j := range light {
			through[j] = 1
			fields[j] = &stars.Field{RandomNoise: stats.Known(10, 0.1, 64), FWHM: stats.Known(3, 0.1, 4)}
		}
		through[4], through[7] = 0.4, 0.25
		for j := range light {
			l := &Light{Share: through[j]}
			for i, f := range star {
				f *= through[j]
				if j == 9 && i%2 == 1 {
					f = 0
				}
				if j == 0 && i == 4 {
					f = 500 // noise, for which it was taken for a star
				}
				l.Flux, l.Err = append(l.Flux, f+60*rng.NormFloat64()), append(l.Err, 60)
			}
			light[j] = l
		}
		light[10] = &Light{Share: 0.3}
		light[11] = nil
		for i := range star { // noise that may hide all of their light
			light[2].Err[i] = 900
		}
		all := make([]Transparency, n)
		for j := range all {
			all[j] = unknown(stars.FewInCommon)
		}
		FromSought(all, fields, light, slices.Repeat([]float64{1}, n), 0)
		for j, got := range all {
			want := through[j]
			switch j {
			case 9:
				if c := got.Covered; !(math.Abs(c.V-0.5) < 0.01 && got.Ratio.V < 0.6) {
					t.Errorf("seed %d: half of the stars are gone: %v covered, %v", seed, c, got.Ratio)
				}
			case 2:
				if got.Ratio.OK() {
					t.Errorf("seed %d: nothing tells what field %d lets through, not %v", seed, j, got.Ratio)
				}
			case 10:
				if !(math.Abs(got.AtMost-0.3) < 0.05) || got.Ratio.OK() {
					t.Errorf("seed %d: at most 0.3, not %v", seed, got.AtMost)
				}
			case 11:
				if got.Ratio.OK() || got.AtMost != 0 {
					t.Errorf("seed %d: nothing was sought, and found %v", seed, got.Ratio)
				}
			default: // a star of 15 standard errors scatters its mean by as much again
				if r := got.Ratio; !(math.Abs(r.V-want) < 4*r.Err && r.Err < 0.09) || got.Covered.V > 0 {
					t.Errorf("seed %d, field %d lets %v through, want %.2f, %v covered", seed, j, r, want, got.Covered)
				}
			}
		}
	}
}

// What the own stars of a field tell stays where it is the surer, as a share of the light: a
// little of it, by knots that came out fainter, is less off than all of it by some.
func TestSoughtOrOwn(t *testing.T) {
	for _, c := range []struct{ own, err, want float64 }{{0.2, 0.04, 1}, {0.2, 0.018, 0.2}, {1.1, 0.12, 1.1}, {1.2, 0.3, 1}} {
		var light []*Light
		var all []Transparency
		var fields []*stars.Field
		for range 6 {
			light = append(light, &Light{[]float64{1000, 800, 900}, []float64{200, 200, 200}, 1})
			all, fields = append(all, unknown(stars.NotMatched)), append(fields, &stars.Field{RandomNoise: stats.Known(10, 0.1, 64), FWHM: stats.Known(3, 0.1, 4)})
		}
		all[3].Ratio = stats.Known(c.own, c.err, 5)
		FromSought(all, fields, light, slices.Repeat([]float64{1}, 6), 0)
		if got := all[3].Ratio; !(math.Abs(got.V-c.want) < 0.06) { // the field itself moves what is clear
			t.Errorf("own light %.2f ± %.2f: told %v, want %.2f", c.own, c.err, got, c.want)
		}
	}
}

// even is a group of fields in which six stars of 20 standard errors are sought, clear all.
func even(n int) (all []Transparency, fields []*stars.Field, light []*Light) {
	for range n {
		l := &Light{Share: 1}
		for range 6 {
			l.Flux, l.Err = append(l.Flux, 1000), append(l.Err, 50)
		}
		light, all = append(light, l), append(all, unknown(stars.FewInCommon))
		fields = append(fields, &stars.Field{RandomNoise: stats.Known(10, 0.1, 64), FWHM: stats.Known(3, 0.1, 4)})
	}
	return all, fields, light
}

// A field whose own images tell another light than its sought stars do beside all the others
// is told by these, and is no scale for the others; nor is it uneven as its images are.
func TestSoughtStray(t *testing.T) {
	for _, own := range []float64{0.05, 0.3, 0.9, 3} {
		all, fields, light := even(8)
		for j := range 4 {
			all[j].Ratio = stats.Known(1, 0.03, 6)
		}
		all[2].Ratio, all[2].Unevenness = stats.Known(own, 0.03*own, 6), stats.Known(30, 3, 6)
		FromSought(all, fields, light, slices.Repeat([]float64{1}, 8), 0)
		stray := own < 0.5 || own > 2
		for j, got := range all {
			want := 1.0
			if j == 2 && !stray {
				want = own
			}
			if !(math.Abs(got.Ratio.V-want) < 0.06) || j == 2 && got.Unevenness.OK() == stray {
				t.Errorf("own light %.2f: field %d told %v, uneven %v; want %.2f", own, j, got.Ratio, got.Unevenness, want)
			}
		}
	}
}

// Images that are missing claim a cover; more stars lit than it leaves open show that there is
// none, but not those of the open part, nor where the sky is dark.
func TestSoughtRefutesCover(t *testing.T) {
	for _, c := range []struct {
		claim   float64
		by      int // images, 0: the sky
		dark    int
		covered bool
	}{{0.7, 12, 0, false}, {0.7, 0, 0, true}, {0.5, 12, 3, true}, {0.15, 12, 0, true}, {0.7, 12, 4, true}} {
		all, fields, light := even(8)
		all[3].Covered = stats.Known(c.claim, 0.1, c.by)
		for i := range c.dark {
			light[3].Flux[i] = 0
		}
		FromSought(all, fields, light, slices.Repeat([]float64{1}, 8), 0)
		if got := all[3].Covered.V > 0; got != c.covered {
			t.Errorf("%.2f covered by missing images, %d of 6 stars dark: %v covered, transparency %v", c.claim, c.dark, all[3].Covered, all[3].Ratio)
		}
	}
}

// Light that is known by other stars stays, and sets the scale.
func TestSoughtBesideKnown(t *testing.T) {
	light := []*Light{{[]float64{1000, 800}, []float64{20, 20}, 1}, {[]float64{800, 640}, []float64{20, 20}, 1}, {[]float64{1000, 800}, []float64{20, 20}, 1}, {[]float64{400, 320}, []float64{20, 20}, 0.4}}
	var all []Transparency
	fields := make([]*stars.Field, 4)
	for j, v := range []float64{1, 0.8, 1, 0} {
		fields[j] = &stars.Field{RandomNoise: stats.Known(10, 0.1, 64), FWHM: stats.Known(3, 0.1, 4)}
		if v == 0 {
			all = append(all, unknown(stars.NotMatched))
			continue
		}
		all = append(all, Transparency{Ratio: stats.Known(v, 0.01, 9), Depth: stats.Known(v*v/100, math.NaN(), 4)})
	}
	FromSought(all, fields, light, []float64{1, 1, 1, 1}, 2)
	for j, want := range []float64{1, 0.8, 1, 0.4} {
		if r := all[j].Ratio; !(math.Abs(r.V-want) < 0.01) {
			t.Errorf("field %d lets %v through, want %v", j, r, want)
		}
	}
	if d := all[3].Depth.V; !(math.Abs(d-0.16/100) < 1e-4) {
		t.Errorf("depth %v", d)
	}
}

// A particle's track or a hot pixel at a star's place is no light of the star, under a cover
// least of all, where what shines most tells how much light the open part has.
func TestSoughtUnderHit(t *testing.T) {
	for _, hit := range []float64{2, 5, 30} {
		for _, covered := range []float64{0, 0.5} {
			all, fields, light := even(8)
			for j := range 5 {
				all[j].Ratio = stats.Known(1, 0.03, 6)
			}
			for i := range 6 {
				light[6].Flux[i] = 400
				if covered > 0 && i%2 == 0 {
					light[6].Flux[i] = 0
				}
			}
			light[6].Flux[1] = 1000 * hit
			if covered > 0 {
				all[6].Covered = stats.Known(covered, 0.02, 0)
			}
			FromSought(all, fields, light, slices.Repeat([]float64{1}, 8), 0)
			want := 0.4 * (1 - covered)
			if got := all[6].Ratio; !(math.Abs(got.V-want) < 3*got.Err && got.Err < 0.1) {
				t.Errorf("a hit of %g times a star's light, %.1f covered: %v, want %.2f", hit, covered, got, want)
			}
			if got := all[1].Ratio; !(math.Abs(got.V-1) < 0.06) {
				t.Errorf("a hit of %g times a star's light, %.1f covered: a clear field lets through %v", hit, covered, got)
			}
		}
	}
}

// What a field's sky says is covered lets nothing through, whether the stars that are sought
// stand in the open all or not; the error of the light holds that of the cover. Apertures with
// edges in them, of many times a star's light and as much less than none, tell no light.
func TestSoughtUnderCover(t *testing.T) {
	for _, c := range []struct {
		name      string
		share     []float64
		covered   float64
		want, err float64 // 0: none
	}{
		{"all in the open", []float64{1, 0.98, 1.03, 1.01}, 0.4, 0.6, 0.03},
		{"some hidden", []float64{1, 0, 1.03, 0.02, 0.99, 1.01}, 0.4, 0.6, 0.03},
		{"haze as well", []float64{0.5, 0.51, 0.02, 0.49}, 0.4, 0.3, 0.03},
		{"no cover", []float64{1, 0.98, 1.03, 1.01}, 0, 1, 0.04},
		{"edges", []float64{0.7, 0, 0.7, -9, 4, 9, 5, 12, -6}, 0.4, 0, 0},
	} {
		fields, light := []*stars.Field{}, []*Light{}
		var all []Transparency
		for range 20 {
			fields = append(fields, &stars.Field{RandomNoise: stats.Known(10, 0.1, 64), FWHM: stats.Known(3, 0.1, 4)})
			l := &Light{Share: 1}
			for range c.share {
				l.Flux, l.Err = append(l.Flux, 1000), append(l.Err, 20)
			}
			light = append(light, l)
			all = append(all, Transparency{Ratio: stats.Known(1, 0.01, 9), Depth: stats.Known(0.01, math.NaN(), 4)})
		}
		for i, share := range c.share {
			light[2].Flux[i] = 1000 * share
		}
		all[2] = unknown(stars.NotMatched)
		if c.covered > 0 {
			all[2].Covered = stats.Known(c.covered, 0.02, 0)
		}
		FromSought(all, fields, light, slices.Repeat([]float64{1}, 20), 0)
		got := all[2]
		if got.Ratio.OK() != (c.want > 0) || c.covered > 0 && got.Covered.V != c.covered {
			t.Errorf("%s: %v, covered %v", c.name, got.Ratio, got.Covered)
			continue
		}
		if c.want == 0 {
			continue
		}
		if !(math.Abs(got.Ratio.V-c.want) <= 0.02) || !(math.Abs(got.Ratio.Err-c.err) <= 0.012) {
			t.Errorf("%s: lets %v through, want %v ± %v", c.name, got.Ratio, c.want, c.err)
		}
		open := 1 - c.covered
		if want := c.want * c.want / open / 100; !(math.Abs(got.Depth.V/want-1) <= 0.05) {
			t.Errorf("%s: depth %v, want %v", c.name, got.Depth.V, want)
		}
	}
}
