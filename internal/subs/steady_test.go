package subs

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// stretch draws a sub's stars out by a vector (e cos 2θ, e sin 2θ).
func (tr *truth) stretch(x, y float64) {
	tr.ellipticity, tr.angle, tr.coherence = math.Hypot(x, y), math.Atan2(y, x)/2*180/math.Pi, 0.98
}

// What a sub is called does not hang on which others are there: verdicts of small
// groups hardly change when half of their night is left out, though their subs
// scatter evenly over the limits, as no gap between good and spoiled makes easy.
// The bar is 2 % of the others, and the reason stands beside those that are held to
// another. With limits that followed the best quarter of a group, and optics told by
// its roundest quarter up to a length where that ended, 3.1, 7, 2.7 and 3.7 % changed.
func TestSmallGroupsAreSteady(t *testing.T) {
	for _, c := range []struct {
		name   string
		levels []float64
		draw   func(rng *rand.Rand, level float64, tr *truth)
		most   float64
	}{
		{"trails along one axis, some nights hardly, some all", []float64{0.12, 0.2, 0.25, 0.3, 0.35, 0.4}, func(rng *rand.Rand, level float64, tr *truth) {
			tr.stretch(level*math.Exp(0.2*rng.NormFloat64()), 0.02*rng.NormFloat64())
		}, 0.02},
		{"gusts any way", []float64{0.05, 0.1, 0.15}, func(rng *rand.Rand, level float64, tr *truth) {
			tr.stretch(0.06+level*rng.NormFloat64(), level*rng.NormFloat64())
		}, 0.05}, // gusts of 0.15 put the baseline of six subs off by as much as separates keep from cull
		{"optics that draw out, and some wind", []float64{0.06, 0.09, 0.12}, func(rng *rand.Rand, level float64, tr *truth) {
			tr.stretch(level+0.07*rng.NormFloat64(), 0.07*rng.NormFloat64())
		}, 0.03}, // 0.12 is where optics and mount cannot be told apart
		{"wide from end to end", []float64{3, 3.5}, func(rng *rand.Rand, level float64, tr *truth) {
			tr.fwhm *= level * math.Exp(0.1*rng.NormFloat64())
		}, 0.02},
	} {
		seeds := uint64(10)
		if testing.Short() {
			seeds = 3
		}
		changed, others := 0, 0
		for _, level := range c.levels {
			for _, n := range []int{6, 11, 20} {
				for seed := range seeds {
					rng := rand.New(rand.NewPCG(seed, uint64(n)))
					night := makeNight(seed, "R", n, func(_ int, tr *truth) { c.draw(rng, level, tr) })
					gone, left := withoutHalf(night, rng)
					changed, others = changed+gone, others+left
				}
			}
		}
		if float64(changed) > c.most*float64(others) {
			t.Errorf("%s: %d of %d verdicts change without half of the others, at most %g of them may", c.name, changed, others, c.most)
		}
	}
}

// withoutHalf counts the subs that are called otherwise once half of the night is
// left out, of those in groups that still have a baseline.
func withoutHalf(night []*Sub, rng *rand.Rand) (changed, others int) {
	part := rng.Perm(len(night))[len(night)/2:]
	if len(part) < minGroup {
		part = rng.Perm(len(night))[len(night)-minGroup:]
	}
	slices.Sort(part)
	var left []*Sub
	for _, i := range part {
		s := *night[i]
		left = append(left, &s)
	}
	Judge(night, DefaultLimits)
	Judge(left, DefaultLimits)
	for k, i := range part {
		if left[k].Verdict != night[i].Verdict {
			changed++
		}
	}
	return changed, len(part)
}

// A sky that rises by a tenth from sub to sub at the end of a night puts a rung on every
// limit: what an average bears must not go with which of them are there. With the mean of all
// in the best average for that, 4.4 % changed between two limits and 1.9 % at one; with a
// limit that went with the number of subs, 0.9 %.
func TestRisingSkyIsSteady(t *testing.T) {
	changed, others := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		rungs, step := 6+rng.IntN(6), 0.08+0.08*rng.Float64()
		night := makeNight(seed, "R", 30, func(i int, tr *truth) {
			tr.sky = 1 + math.Exp(step*float64(i-30+rungs)) - math.Exp(-step*float64(rungs))
			if i < 30-rungs {
				tr.sky = 1
			}
		})
		gone, left := withoutHalf(night, rng)
		changed, others = changed+gone, others+left
	}
	if most := 0.007; float64(changed) > most*float64(others) { // a rung up or down in one half of five
		t.Errorf("%d of %d verdicts change without half of the others", changed, others)
	}
}

// How far widths scatter is told alike by all of a night and by half of it: a drift that is
// set back once has a course though its steps become larger, and seeing that scatters has
// none. By the squares of all steps (von Neumann 1941) all of this drift scattered by 0.3
// and half of it by 0.7.
func TestHalfOfADriftIsADrift(t *testing.T) {
	drift := func(at float64, rng *rand.Rand) float64 { return 4 + 3*math.Mod(at, 0.6) + 0.01*rng.NormFloat64() }
	seeing := func(_ float64, rng *rand.Rand) float64 { return 4 + 0.4*rng.NormFloat64() }
	for _, c := range []struct {
		name       string
		width      func(at float64, rng *rand.Rand) float64
		from, most float64 // mean over 200 draws; one night in ten of 15 subs that scatter seems to have something of a course
	}{{"drift", drift, 0, 0.05}, {"seeing", seeing, 0.95, 1}} {
		var whole, half float64
		rng := rand.New(rand.NewPCG(4, 2))
		for range 200 {
			var at, x, atHalf, xHalf []float64
			for i := range 30 {
				at = append(at, float64(i)/30)
				x = append(x, c.width(at[i], rng))
				if rng.IntN(2) == 0 {
					atHalf, xHalf = append(atHalf, at[i]), append(xHalf, x[i])
				}
			}
			whole, half = whole+scattered(at, x)/200, half+scattered(atHalf, xHalf)/200
		}
		for _, got := range []float64{whole, half} {
			if !(got >= c.from && got <= c.most) {
				t.Errorf("%s: all and half of the night scatter by %.3f and %.3f, want %g to %g", c.name, whole, half, c.from, c.most)
			}
		}
	}
}

// Where seeing scatters from sub to sub, what is culled as soft leaves as good a stack
// as any cut by width does: the root of the number times the mean height of the stars'
// peaks to the power of the aim. 1 % is what the limits are rounded to.
func TestScatteredSeeingIsCutAsItsStackWants(t *testing.T) {
	scatter := func(spread float64) func(*rand.Rand) float64 {
		return func(rng *rand.Rand) float64 {
			return math.Exp(spread * math.Max(-1.5, math.Min(1.5, rng.NormFloat64())))
		}
	}
	for _, c := range []struct {
		name  string
		wider func(rng *rand.Rand) float64
	}{
		{"steady", scatter(0.05)},
		{"scatters", scatter(0.2)},
		{"scatters much", scatter(0.4)},
		{"one to two", func(rng *rand.Rand) float64 { return 1 + rng.Float64() }},
		{"seldom calm", func(rng *rand.Rand) float64 { return []float64{1, 1, 1.55, 1.6, 1.65}[rng.IntN(5)] }},
	} {
		for _, aim := range []Aim{Balance, Detail} {
			if got := worthOfCut(c.wider, aim); !(got > 0.99) {
				t.Errorf("%s, %s: the verdicts give %.3f of the best cut", c.name, aim, got)
			}
		}
	}
}

// worthOfCut is what the verdicts leave of a night so scattered, over the best that a cut
// leaves.
func worthOfCut(wider func(*rand.Rand) float64, aim Aim) float64 {
	rng := rand.New(rand.NewPCG(3, 8))
	var widths, kept []float64
	night := makeNight(9, "R", 24, func(_ int, tr *truth) { tr.fwhm *= wider(rng) })
	limits := DefaultLimits
	limits.Aim = aim
	Judge(night, limits)
	for _, s := range night {
		widths = append(widths, s.Field.FWHM.V)
		if s.Verdict.Usable() {
			kept = append(kept, s.Field.FWHM.V)
		}
	}
	slices.Sort(widths)
	best := 0.0
	for n := range widths {
		best = math.Max(best, worthOf(widths[:n+1], aims[aim].peaks))
	}
	return worthOf(kept, aims[aim].peaks) / best
}

// worthOf an average of subs of such widths and one noise, for an aim of power q.
func worthOf(widths []float64, q float64) float64 {
	peaks, n := 0.0, float64(len(widths))
	for _, w := range widths {
		peaks += 1 / (w * w * n)
	}
	return math.Sqrt(n) * math.Pow(peaks, q)
}

// What a judgement leaves is judged the same once more, also where it leaves too few for a
// baseline: with what an average bears, how round subs are and what the optics draw out told
// by all where fewer than five are left, 4 of these 1019 were culled once more.
func TestWhatIsLeftOfFewStays(t *testing.T) {
	left, more := 0, 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 5))
		night := makeNight(seed, "R", minGroup+rng.IntN(3), func(i int, tr *truth) {
			tr.sky = math.Exp(3 * math.Max(0, rng.Float64()-0.5))
			tr.stretch(0.06+0.5*math.Max(0, rng.Float64()-0.5), 0)
		})
		for _, s := range judgedTwice(night) {
			left++
			if s.Verdict == Cull {
				more++
			}
		}
	}
	if more > 0 {
		t.Errorf("%d of %d that were left are culled once more", more, left)
	}
}

// judgedTwice judges a night, and what that leaves of it once more, which it gives.
func judgedTwice(night []*Sub) []*Sub {
	Judge(night, DefaultLimits)
	var rest []*Sub
	for _, s := range night {
		if s.Verdict != Cull {
			rest = append(rest, s)
		}
	}
	Judge(rest, DefaultLimits)
	return rest
}
