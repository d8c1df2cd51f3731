package demo

import (
	"math"
	"testing"
)

// Hard nights are at least forty, named and seeded apart.
func TestHardNightsAreApart(t *testing.T) {
	names, seeds := map[string]bool{}, map[uint64]bool{}
	for _, sc := range append(HardNights(1), HardNights(2)...) {
		if seeds[sc.Seed] {
			t.Errorf("%s: seed %d is taken", sc.Name, sc.Seed)
		}
		names[sc.Name], seeds[sc.Seed] = true, true
	}
	if len(names) < 40 || len(seeds) != 2*len(names) {
		t.Errorf("%d names, %d seeds", len(names), len(seeds))
	}
}

// Those whose fault the other nights do not have hold it plainly, beside good subs.
func TestHardNightsHoldWhatTheyPromise(t *testing.T) {
	for name, cause := range map[string]string{"dew-narrow": "dewed", "roof-35": "obstructed", "doubled-45": "trailed"} {
		for _, sc := range HardNights(1) {
			if sc.Name != name {
				continue
			}
			good, spoiled := 0, 0
			for _, s := range plan(sc) {
				if s.Class == Good {
					good++
				}
				if s.Class == Spoiled && s.Causes[0] == cause {
					spoiled++
				}
			}
			if good < sc.subs()/4 || spoiled == 0 {
				t.Errorf("%s: of %d subs %d are good, %d spoiled by %s", name, sc.subs(), good, spoiled, cause)
			}
		}
	}
}

// A cover hides as much of the field as it is told to, from either kind.
func TestCoverHidesItsShare(t *testing.T) {
	for _, c := range []Cover{{Span{0, 0}, 0.11, false, -90, false}, {Span{0, 0}, 0.63, false, 30, false}, {Span{0, 0}, 0.4, false, 0, true}} {
		sc := hard("covered", luminance(1))
		sc.Covers = []Cover{c}
		// The edge is found to a tenth of a percent of the field.
		if got := plan(sc)[0].Covered; !(math.Abs(got-c.Fraction) <= 0.001) {
			t.Errorf("%+v covers %.3f", c, got)
		}
	}
}

// One sub of ten times the noise variance is more than nine even ones bear, and
// one of 1.5 times is not: an average of k bears twice their mean and some.
func TestBearable(t *testing.T) {
	var g []*Sub
	for range 9 {
		g = append(g, &Sub{Noise2: 100, Transmission: 1})
	}
	for _, v := range []float64{150, 1000} {
		bears, _ := bearable(append(g, &Sub{Noise2: v, Transmission: 1}))
		if bad := v > bears; bad != (v == 1000) {
			t.Errorf("variance %g of 100: %g is borne", v, bears)
		}
	}
	// Four clear ones have the noise 10 / 2, and with twelve of five times the variance the
	// same: √6400 / 16. It is no matter which average is taken.
	for _, v := range []float64{490, 510} {
		g := g[:4:4]
		for range 12 {
			g = append(g, &Sub{Noise2: v, Transmission: 1})
		}
		if best, most := bearable(g); !(most > 800 && (best < 230) == (v > 500)) {
			t.Errorf("four clear subs and twelve of %g: %g to %g is borne", v, best, most)
		}
	}
}
