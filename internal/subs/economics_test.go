package subs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// stackSubs is a group whose subs have the given transparencies and noises.
func stackSubs(transparency, noise []float64) []*Sub {
	rng := rand.New(rand.NewPCG(7, 7))
	var subs []*Sub
	for i := range transparency {
		s := makeSub(rng, fmt.Sprintf("s%02d.fits", i), "R", 5*float64(i), goodSub)
		s.Transparency.Ratio = stats.Known(transparency[i], math.NaN(), 100)
		s.RandomNoise = stats.Known(noise[i], math.NaN(), 1)
		subs = append(subs, s)
	}
	return subs
}

// The predicted curves against stacks that are really made: pixels of signal
// transparency × 100 and Gaussian noise, averaged plainly and with weights, the
// worst left out one by one. Signal is known, noise is measured over the
// pixels; with 40 000 of them its relative error is 1/√(2·40000) = 0.35 %, and
// the ratio of two is good to 0.5 %, well inside the 2 % asked for.
func TestEconomicsAgainstSimulatedStack(t *testing.T) {
	const pixels = 40000
	transparency := []float64{1, 0.98, 0.95, 1, 0.97, 0.7, 0.5, 0.35, 0.99, 0.1, 0.92, 0.55}
	noise := []float64{30, 31, 30, 30, 32, 36, 40, 42, 30, 45, 60, 31}
	g := &Group{Subs: stackSubs(transparency, noise)}
	weigh(g)
	ec := economics(g.Subs)

	rng := rand.New(rand.NewPCG(11, 3))
	images := map[string][]float64{}
	for i, s := range g.Subs {
		im := make([]float64, pixels)
		for p := range im {
			im[p] = 100*transparency[i] + noise[i]*rng.NormFloat64()
		}
		images[s.File] = im
	}
	snr := func(in []entry, weight func(entry) float64) float64 {
		sum := make([]float64, pixels)
		for _, e := range in {
			w := weight(e)
			for p, x := range images[e.sub.File] {
				sum[p] += w * x
			}
		}
		return stats.Mean(sum) / math.Sqrt(stats.Variance(sum))
	}
	plain := func(entry) float64 { return 1 }
	scaled := func(e entry) float64 { return 1 / e.signal }
	best := func(e entry) float64 { return e.signal / (e.noise * e.noise) }
	all := entries(g.Subs)
	unit := snr(all, plain)
	worst := 0.0
	for k := range all {
		for name, c := range map[string][2]float64{"plain": {ec.Plain[k], snr(all[k:], plain) / unit}, "scaled": {ec.Scaled[k], snr(all[k:], scaled) / unit}, "weighted": {ec.Weighted[k], snr(all[k:], best) / unit}} {
			off := math.Abs(c[0]/c[1] - 1)
			worst = math.Max(worst, off)
			if off > 0.02 {
				t.Errorf("%s, %d dropped: predicted %.4f, simulated %.4f", name, k, c[0], c[1])
			}
		}
	}
	t.Logf("largest difference between prediction and simulation: %.2f %%", 100*worst)
}

// Adding a sub of transparency T at equal noise to n clear ones that are scaled
// alike helps when (n + 1)/√(n + 1/T²) > √n, for many subs when T > 1/√2;
// weighted it always helps, by √((n + T²)/n).
func TestEconomicsBreakEven(t *testing.T) {
	const n = 200
	for _, c := range []struct {
		transparency float64
		best         int
	}{{0.4, 1}, {0.69, 1}, {0.72, 0}, {0.9, 0}} {
		transparency, noise := make([]float64, n+1), make([]float64, n+1)
		for i := range transparency {
			transparency[i], noise[i] = 1, 30
		}
		transparency[0] = c.transparency
		g := &Group{Subs: stackSubs(transparency, noise)}
		for _, s := range g.Subs {
			s.Field.FWHM.V = 3
		}
		weigh(g)
		ec := economics(g.Subs)
		if ec.BestDrop != c.best {
			t.Errorf("transparency %v: best drop %d, want %d", c.transparency, ec.BestDrop, c.best)
		}
		if want := math.Sqrt((n + c.transparency*c.transparency) / n); !(math.Abs(ec.Weighted[0]/ec.Weighted[1]-want) <= 1e-9) {
			t.Errorf("transparency %v: weighted gain %v, want %v", c.transparency, ec.Weighted[0]/ec.Weighted[1], want)
		}
	}
}

// A night of clear subs with twelve in twilight or cloud: what an average of
// scaled subs gains from culling them a plain one hardly shows, since there dim
// subs bring little of anything.
func TestCullingIsWorthMoreWhenScaled(t *testing.T) {
	var transparency, noise []float64
	for range 20 {
		transparency, noise = append(transparency, 1), append(noise, 30)
	}
	for i := range 12 {
		transparency, noise = append(transparency, 0.15+0.02*float64(i)), append(noise, 36)
	}
	g := &Group{Subs: stackSubs(transparency, noise)}
	for i, s := range g.Subs {
		if s.Verdict = Keep; i >= 20 {
			s.Verdict, s.Causes = Cull, []Cause{Cloud}
		}
	}
	weigh(g)
	ec := economics(g.Subs)
	// By hand: Σv of the twelve, in units of a clear sub's.
	v := 20.0
	for i := range 12 {
		n := 1.2 / (0.15 + 0.02*float64(i))
		v += n * n
	}
	if want := math.Sqrt(20) / (32 / math.Sqrt(v)); !(math.Abs(ec.UserScaled/ec.Scaled[0]-want) <= 1e-9) || want < 2 {
		t.Errorf("culling is worth %.3f, want %.3f", ec.UserScaled/ec.Scaled[0], want)
	}
	if ec.UserPlain > 1.3 || ec.UserWeighted > ec.Weighted[0] {
		t.Errorf("plain %.3f, weighted %.3f of %.3f", ec.UserPlain, ec.UserWeighted, ec.Weighted[0])
	}
}

// A fraction of transparency counts squared, noise inversely squared.
func TestWeightAndClearTime(t *testing.T) {
	g := &Group{Subs: stackSubs([]float64{1, 0.5, 1, 0.8}, []float64{30, 30, 60, 30})}
	for _, s := range g.Subs {
		s.Verdict = Keep
	}
	g.Subs[1].Verdict, g.Subs[1].Causes = Cull, []Cause{Cloud}
	g.Subs[3].Verdict, g.Subs[3].Causes = Doubtful, []Cause{Haze}
	weigh(g)
	g.sumUp()
	for i, want := range []float64{1, 0.25, 0.25, 0.64} {
		if got := g.Subs[i].Weight.V; !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("weight %d is %v, want %v", i, got, want)
		}
	}
	if g.ShotSeconds != 1200 || g.UsableSeconds != 900 || !(math.Abs(g.EquivalentClearSeconds-300*(1+0.25+0.64)) <= 1e-9) {
		t.Errorf("shot %v, usable %v, clear %v", g.ShotSeconds, g.UsableSeconds, g.EquivalentClearSeconds)
	}
	if g.LostSeconds[Cloud] != 300 || !(math.Abs(g.LostSeconds[Haze]-300*0.36) <= 1e-9) {
		t.Errorf("lost %v", g.LostSeconds)
	}
	ec := g.Economics
	if ec.UserDrop != 1 || !(math.Abs(ec.UserClearSeconds-75) <= 1e-9) || !(math.Abs(ec.HalfTransparency-0.5) <= 0.005) || !(math.Abs(ec.HalfWeight-0.25) <= 0.005) {
		t.Errorf("%+v", ec)
	}
}

// Under a limiting sky a second is worth the same in long and short subs: noise
// grows as the root of the exposure.
func TestMeritIsPerSecond(t *testing.T) {
	subs := stackSubs([]float64{1, 1}, []float64{30, 30 * math.Sqrt2})
	subs[1].Exposure = 2 * subs[0].Exposure
	if a, b := merit(subs[0]), merit(subs[1]); !(math.Abs(a/b-1) <= 1e-12) {
		t.Errorf("%v and %v", a, b)
	}
}

// A cover leaves little noise; a culled sub does not set the scale.
func TestCulledSubIsNoBest(t *testing.T) {
	g := &Group{Subs: stackSubs([]float64{1, 1, 1}, []float64{30, 30, 5})}
	for _, s := range g.Subs {
		s.Verdict = Keep
	}
	g.Subs[2].Verdict = Cull
	weigh(g)
	for i, s := range g.Subs {
		if s.Weight.V != 1 {
			t.Errorf("weight %d is %v", i, s.Weight.V)
		}
	}
}

// Exposures within a group may differ by 1 %; between groups they do not mix,
// so each group's best has weight 1 whatever its exposure.
func TestWeightOfTwoExposures(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var all []*Sub
	for i := range 12 {
		s := makeSub(rng, fmt.Sprintf("s%02d.fits", i), "R", 5*float64(i), goodSub)
		if i%2 == 1 { // a tenth of the exposure: a tenth of the sky
			s.Exposure, s.Stack = 30, 1
			s.SkyADU = s.SkyADU.Scaled(0.1)
			s.RandomNoise = stats.Known(math.Sqrt(s.SkyADU.V+25), math.NaN(), 1)
		}
		all = append(all, s)
	}
	res := Judge(all, DefaultLimits)
	if len(res.Groups) != 2 {
		t.Fatalf("%d groups", len(res.Groups))
	}
	for _, g := range res.Groups {
		best := 0.0
		for _, s := range g.Subs {
			best = math.Max(best, s.Weight.V)
			if s.Verdict != Keep {
				t.Errorf("%s: %s %s", s.File, s.Verdict, told(s))
			}
		}
		if best != 1 || !(math.Abs(g.EquivalentClearSeconds/g.ShotSeconds-0.95) <= 0.05) {
			t.Errorf("%s: best weight %v, clear %v of %v s", g.Label, best, g.EquivalentClearSeconds, g.ShotSeconds)
		}
	}
}

func TestEconomicsOfNothing(t *testing.T) {
	ec := economics(nil)
	if ec.Stacked != 0 || ec.Plain != nil || !math.IsNaN(ec.UserScaled) || !math.IsNaN(ec.UserPlain) || !math.IsNaN(ec.HalfWeight) {
		t.Errorf("%+v", ec)
	}
	// Subs without a star have no signal: dropping them is what helps.
	subs := stackSubs([]float64{1, 1, 1, math.NaN()}, []float64{30, 30, 30, 30})
	subs[3].Transparency.Ratio = stats.Missing("no stars")
	subs[3].Verdict, subs[3].Causes = Cull, []Cause{Cloud, NoStars}
	g := &Group{Subs: subs}
	weigh(g)
	ec = economics(g.Subs)
	if ec.Stacked != 4 || ec.BestDrop != 1 || ec.Scaled[0] != 0 || !(math.Abs(ec.Plain[1]-math.Sqrt(4./3)) <= 1e-12) || ec.UserPlain != ec.Plain[1] || ec.UserWeighted != ec.Weighted[0] {
		t.Errorf("%+v", ec)
	}
}

// A usable sub without others, to which no light can be compared, is the best of its
// group; a culled one, or one of several whose light is unknown, is none.
func TestLoneSubIsTheBest(t *testing.T) {
	for _, c := range []struct {
		n       int
		verdict Verdict
		weight  bool
	}{{1, Keep, true}, {1, Cull, false}, {2, Keep, false}} {
		g := &Group{Subs: makeNight(3, "L", c.n, nil)}
		for _, s := range g.Subs {
			s.Verdict, s.Transparency.Ratio, s.Transparency.Depth = c.verdict, stats.Missing("nothing to compare"), stats.Missing("nothing to compare")
		}
		weigh(g)
		g.sumUp()
		if s := g.Subs[0]; s.Weight.OK() != c.weight || c.weight && g.EquivalentClearSeconds != s.Exposure {
			t.Errorf("%+v: weight %+v, clear %v s", c, s.Weight, g.EquivalentClearSeconds)
		}
	}
}

// One sub's light is too high by an error that it states: it must not make the others of a
// steady night worth less than its best sky.
func TestWeightsGoByTheBestThatIsSure(t *testing.T) {
	all := stackSubs([]float64{1, 1, 1, 1.12}, []float64{10, 10, 10, 10})
	for i, s := range all {
		s.Transparency.Ratio.Err = 0.01
		if i == 3 {
			s.Transparency.Ratio.Err = 0.12
		}
	}
	weigh(&Group{Subs: all})
	for i, s := range all {
		if s.Weight.V != 1 {
			t.Errorf("sub %d has weight %.3f, want 1", i, s.Weight.V)
		}
	}
}

// Hours that no header tells are not known: they are not zero.
func TestHoursWithoutExposures(t *testing.T) {
	g := &Group{}
	for range 5 {
		g.Subs = append(g.Subs, &Sub{Exposure: math.NaN(), Weight: stats.Missing(NoWeights), Verdict: Keep})
	}
	g.sumUp()
	if !math.IsNaN(g.ShotSeconds) || !math.IsNaN(g.UsableSeconds) || !math.IsNaN(g.EquivalentClearSeconds) || !fact.Has(g.Notes, NoExposures) {
		t.Errorf("%g s shot, %g usable, %g clear, %v", g.ShotSeconds, g.UsableSeconds, g.EquivalentClearSeconds, g.Notes)
	}
}

// A sub whose file could not be read for no fault of its own is in no stack.
func TestNotJudgedIsNotUsed(t *testing.T) {
	g := &Group{}
	for _, v := range []Verdict{Keep, Doubtful, Cull, NotJudged} {
		g.Subs = append(g.Subs, &Sub{Exposure: 60, Weight: stats.Missing(NoWeights), Verdict: v})
	}
	g.sumUp()
	if g.ShotSeconds != 240 || g.UsableSeconds != 120 {
		t.Errorf("%g s shot, %g usable of one in four kept and one doubtful", g.ShotSeconds, g.UsableSeconds)
	}
}

// A sub of unknown light is left out, not counted as one without any; and what a sub of half
// the light is worth is told of one that was not kept.
func TestWhoIsInTheEconomics(t *testing.T) {
	for _, c := range []struct {
		last, other Verdict
		cause       Cause
		known, half bool
		stacked     int
	}{{Keep, Keep, "", true, false, 4}, {Doubtful, Keep, "", true, true, 4},
		{Doubtful, Keep, Trailed, false, false, 3}, {Doubtful, Keep, FewStars, false, false, 4}} {
		all := stackSubs([]float64{1, 1, 1, 0.5}, []float64{30, 30, 30, 30})
		for _, s := range all {
			s.Verdict = c.other
		}
		weigh(&Group{Subs: all})
		last := all[3]
		if last.Verdict, last.Causes = c.last, []Cause{c.cause}; !c.known {
			last.Transparency.Ratio = stats.Missing("not tied")
		}
		if ec := economics(all); ec.Stacked != c.stacked || math.IsNaN(ec.HalfWeight) == c.half {
			t.Errorf("%+v: %d subs, half the light weighs %g", c, ec.Stacked, ec.HalfWeight)
		}
	}
}

// For what is as small as a star a sub weighs as the area of its stars beside the sharpest
// that is in the stack: of 4 px where that has 3, 9/16; a culled sharper one is no measure.
func TestWeightOfDetail(t *testing.T) {
	all := stackSubs([]float64{1, 1, 1}, []float64{30, 30, 30})
	for i, fwhm := range []float64{3, 4, 2} {
		all[i].Field.FWHM, all[i].Verdict = stats.Known(fwhm, 0.1, 40), Keep
	}
	all[2].Verdict = Cull
	weigh(&Group{Subs: all})
	for i, want := range []float64{1, 9. / 16, 1} {
		if got := all[i].WeightDetail.V / all[i].Weight.V; !(math.Abs(got-want) <= 1e-12) { // rounding
			t.Errorf("sub %d: %g of its weight, want %g", i, got, want)
		}
	}
}
