package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// night is subs of one field on a sensor with hot pixels.
type night struct {
	fields []*stars.Field
	stars  [][][2]float64 // where the stars are in each sub
	hot    [][2]float64
}

// shoot draws twelve subs without a dark map, 0.1 % of the pixels hot;
// half of these light the pixels beside them, as true ones do, and may be taken
// for the star images of 1.3 px. move tells where the field lies in each sub.
func shoot(t *testing.T, seed uint64, move func(k int, s *simulated.Sim) (dx, dy float64)) night {
	t.Helper()
	const side, sky, fwhm = 300, 100, 1.3
	sensor := simulated.NewSim(seed, side, side, 0)
	var n night
	for range side * side / 1000 {
		x, y := sensor.Rng.IntN(side-1), sensor.Rng.IntN(side-1)
		i, v := y*side+x, 200+3000*sensor.Rng.Float64()
		sensor.E[i] += v
		n.hot = append(n.hot, [2]float64{float64(x), float64(y)})
		if sensor.Rng.IntN(2) == 0 {
			sensor.E[i+1] += v * sensor.Rng.Float64()
			sensor.E[i+side] += v * sensor.Rng.Float64()
		}
	}
	at := sensor.Scatter(50, 18)
	for k := range 12 {
		s := simulated.NewSim(100*seed+uint64(k), side, side, sky)
		dx, dy := move(k, s)
		var list []truth
		var places [][2]float64
		for i, p := range at {
			list = append(list, truth{p[0] + dx, p[1] + dy, 15 / math.Pow(float64(i+1)/51, 0.8)})
			places = append(places, [2]float64{p[0] + dx, p[1] + dy})
		}
		gaussians(s, list, sky, fwhm)
		for i, v := range sensor.E {
			s.E[i] += v
		}
		n.fields, n.stars = append(n.fields, measureSim(t, s)), append(n.stars, places)
	}
	return n
}

// tally counts, over all subs, stars found that lie apart from hot pixels, and
// false ones.
func (n *night) tally() (hit, extra int) {
	for k, f := range n.fields {
		apart := slices.DeleteFunc(slices.Clone(n.stars[k]), func(p [2]float64) bool {
			return slices.ContainsFunc(n.hot, func(h [2]float64) bool { return math.Hypot(h[0]-p[0], h[1]-p[1]) < 4 })
		})
		h, _ := found(f, apart, 1.2)
		_, e := found(f, n.stars[k], 1.2)
		hit, extra = hit+h, extra+e
	}
	return hit, extra
}

// clean takes the fixed points off.
func (n *night) clean(al []registration.Alignment) {
	for i, drop := range registration.FixedPoints(n.fields, al) {
		figures.Without(n.fields[i], drop)
	}
}

// Without a dark, hot pixels that look like stars are told by the dither: of
// those that are left by the detection 98 % go, and no star does.
func TestHotPixelsOfDitheredSubs(t *testing.T) {
	t.Parallel()
	for seed := range seeds(5) {
		n := shoot(t, seed, func(k int, s *simulated.Sim) (float64, float64) {
			return 12 * (2*s.Rng.Float64() - 1), 12 * (2*s.Rng.Float64() - 1)
		})
		hit, extra := n.tally()
		al, _ := registration.Align(n.fields)
		if seed%2 == 1 { // the fixed points taken for the field
			for i, f := range n.fields {
				al[i] = registration.NewAlignment(f, f, registration.Identity, nil)
			}
		}
		before := n.fields[3].Count
		n.clean(al)
		still, left := n.tally()
		if extra < 80 || left*50 > extra || still < hit {
			t.Errorf("seed %d: of %d false stars %d are left, of %d stars %d", seed, extra, left, hit, still)
		}
		f := n.fields[3]
		if f.Count != len(f.Stars) || f.Count >= before || !strings.Contains(fmt.Sprint(f.Notes), fmt.Sprintf("points_taken_off(points=%d)", before-f.Count)) {
			t.Errorf("seed %d: count %d was %d, notes %v", seed, f.Count, before, f.Notes)
		}
		if !(math.Abs(f.FWHM.V/1.3-1) < 0.03) {
			t.Errorf("seed %d: FWHM %v", seed, f.FWHM)
		}
	}
}

// Where the field rests, or drifts so slowly that a star stays at its pixel for
// some subs, nothing is dropped that might be a star.
func TestStarsOfRestingSubsStay(t *testing.T) {
	if testing.Short() {
		t.Skip("three nights; TestHotPixelsOfDitheredSubs keeps the stars of one")
	}
	for name, move := range map[string]func(k int, s *simulated.Sim) (float64, float64){
		"rest": func(k int, s *simulated.Sim) (float64, float64) {
			return 0.3 * s.Rng.NormFloat64(), 0.3 * s.Rng.NormFloat64()
		},
		"drift": func(k int, s *simulated.Sim) (float64, float64) { return 0.25 * float64(k), 0.1 * float64(k) },
		"jump":  func(k int, s *simulated.Sim) (float64, float64) { return 20 * float64(k/7), 0 },
	} {
		n := shoot(t, 1, move)
		hit, _ := n.tally()
		al, _ := registration.Align(n.fields)
		n.clean(al)
		if still, _ := n.tally(); still < hit {
			t.Errorf("%s: %d stars, %d before", name, still, hit)
		}
	}
}

// Stars of half a pixel's width look like hot pixels or not by where in the pixel they
// fall, so that each sub leaves out others. The dither tells them: nine in ten are in
// every sub's list, hardly a hot pixel is, and the light of the subs agrees to 7 %, one and a half of its errors
// (a star is seen through one to four pixels), but for one sub at most, where too few
// stars fall between pixels to put them on one scale. No width is off by more than twice
// what it states.
func TestStarsOfHalfAPixelAmongHotPixels(t *testing.T) {
	if testing.Short() {
		t.Skip("two fields; TestHotPixelsOfDitheredSubs tells larger stars from hot pixels by the dither")
	}
	t.Parallel()
	for _, fwhm := range []float64{0.5, 0.8} {
		const side, sky, n, subs = 300, 150, 45, 6
		sensor := simulated.NewSim(uint64(10*fwhm), side, side, 0)
		for range side * side / 700 {
			sensor.E[sensor.Rng.IntN(side*side)] += 200 + 5000*sensor.Rng.Float64()
		}
		at := sensor.Scatter(n, 16)
		var night night
		for k := range subs {
			s := simulated.NewSim(50+uint64(k), side, side, sky)
			dx, dy := 8*(2*s.Rng.Float64()-1), 8*(2*s.Rng.Float64()-1)
			var places [][2]float64
			for i, p := range at {
				s.Spot(p[0]+dx, p[1]+dy, 1200+40000/float64(i+1), fwhm)
				places = append(places, [2]float64{p[0] + dx, p[1] + dy})
			}
			for i, v := range sensor.E {
				s.E[i] += v
			}
			night.fields, night.stars = append(night.fields, measureSim(t, s)), append(night.stars, places)
		}
		al, _ := registration.Align(night.fields)
		night.clean(al)
		for i, moving := range registration.Moving(night.fields) {
			figures.With(night.fields[i], moving)
		}
		al, _ = registration.Align(night.fields)
		untold := 0
		for k, l := range photometry.Transparencies(night.fields, al, nil) {
			f := night.fields[k]
			hit, extra := found(f, night.stars[k], 1.2)
			if !l.Ratio.OK() {
				untold++
			}
			if 10*hit < 9*n || extra > 3 || l.Ratio.OK() && !(math.Abs(l.Ratio.V-1) < 0.07) || untold > 1 {
				t.Errorf("stars of %v px, sub %d: %d of %d stars, %d false, transparency %v", fwhm, k, hit, n, extra, l.Ratio)
			}
			if f.FWHM.OK() && math.Abs(f.FWHM.V-fwhm) > 2*f.FWHM.Err+0.05 {
				t.Errorf("stars of %v px, sub %d: FWHM %v", fwhm, k, f.FWHM)
			}
		}
	}
}
