package worth

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// patterns are what the dark signal may differ by from pixel to pixel, in units of
// its strength: evenly, and with the tails of warm pixels that old sensors and
// warm ones have (common practice, no source).
var patterns = map[string]func(r *rand.Rand) float64{
	"even":        func(r *rand.Rand) float64 { return r.NormFloat64() },
	"exponential": func(r *rand.Rand) float64 { return r.ExpFloat64() },
	"warm tail": func(r *rand.Rand) float64 { // lognormal, one pixel in a thousand lies at eight times the scatter
		return math.Exp(0.9*r.NormFloat64()) / 2
	},
}

// simPattern is a sensor pattern under subs that are nothing but noise, stars and
// an uneven sky.
type simPattern struct {
	seed     uint64
	shape    string
	strength float64 // e-
	noise    float64 // e-, of a sub
	limit    float64 // e-, from which a pixel is hot
	shift    func(k int) (x, y float64)
}

const (
	patternSide = 192
	patternSubs = 12
)

// found is what the subs tell, and the truth: the spread of the pixels that do not stand out.
func (p simPattern) found() (f Found, truth float64) {
	r := rand.New(rand.NewPCG(p.seed, 5))
	fixed := make([]float64, patternSide*patternSide)
	for i := range fixed {
		fixed[i] = p.strength * patterns[p.shape](r)
	}
	var stars [][3]float64
	for range 25 {
		stars = append(stars, [3]float64{r.Float64() * patternSide, r.Float64() * patternSide, 30 * p.noise * math.Pow(100, r.Float64())})
	}
	all := make([]int, patternSide)
	for y := range all {
		all[y] = y
	}
	s := NewSeen(patternSide, patternSide, all, patternSide, false)
	sub := make([]float32, len(fixed))
	for k := range patternSubs {
		dx, dy := p.shift(k)
		for i := range sub {
			// Noisier to one side, as under a nebula.
			x, y := float64(i%patternSide), float64(i/patternSide)
			uneven := math.Sqrt(0.5 + x/patternSide)
			sub[i] = float32(fixed[i] + p.noise*(uneven*r.NormFloat64()+0.2*math.Sin((x+dx)/25)*math.Cos((y+dy)/30)))
		}
		for _, st := range stars {
			addStar(sub, st[0]-dx, st[1]-dy, st[2])
		}
		s.Add(sub, &Place{A: 1, C: dx, E: 1, F: dy})
	}
	f = s.found(brought{}, p.limit)
	limit := max(p.limit, standsOut*math.Hypot(p.noise/math.Sqrt(patternSubs), stats.MADSigma(fixed)))
	centre := stats.Median(fixed)
	var kept []float64
	for _, v := range fixed {
		if math.Abs(v-centre) < limit {
			kept = append(kept, v)
		}
	}
	return f, math.Sqrt(stats.Variance(kept))
}

// addStar of 3 px FWHM.
func addStar(sub []float32, cx, cy, flux float64) {
	const variance = 1.6
	for y := int(cy) - 7; y <= int(cy)+7; y++ {
		for x := int(cx) - 7; x <= int(cx)+7; x++ {
			if x >= 0 && y >= 0 && x < patternSide && y < patternSide {
				d := (float64(x)-cx)*(float64(x)-cx) + (float64(y)-cy)*(float64(y)-cy)
				sub[y*patternSide+x] += float32(flux * math.Exp(-d/(2*variance)) / (2 * math.Pi * variance))
			}
		}
	}
}

func dithered(k int) (x, y float64) { return float64(k*7%17) + 0.3, float64(k*11%19) + 0.6 }

func drifting(k int) (x, y float64) { return 0.9 * float64(k), 0.4 * float64(k) }

// Patterns of known strength, even and with tails, from a quarter of the stack's
// noise on: what the subs tell is right, with an error that says how right.
func TestPatternOfKnownStrength(t *testing.T) {
	moves := map[string]func(int) (float64, float64){"dither": dithered, "drift": drifting}
	for shape := range patterns {
		for how, shift := range moves {
			t.Run(shape+", "+how, func(t *testing.T) {
				if testing.Short() && how == "drift" {
					t.Skip("one way of moving is enough")
				}
				t.Parallel()
				const noise, limit = 4, 5
				stack := noise / math.Sqrt(patternSubs)
				for i, strength := range []float64{0.25, 0.5, 1, 2} {
					f, truth := simPattern{uint64(i), shape, strength * stack, noise, limit, shift}.found()
					t.Logf("%.3f: %v under %.3f", truth, f.Pattern, f.AtMost)
					if truth > f.AtMost {
						t.Errorf("%.3f e- is said to be under %.3f", truth, f.AtMost)
					}
					if truth > 0.3*stack && !f.Pattern.OK() {
						t.Errorf("%.3f e- in a stack of %.3f is not found", truth, stack)
					}
					// Of warm pixels at the limit, noise decides which count: 3 %.
					if f.Pattern.OK() && math.Abs(f.Pattern.V-truth) > 3.5*f.Pattern.Err+0.03*truth {
						t.Errorf("%v e-, truth %.3f", f.Pattern, truth)
					}
				}
			})
		}
	}
}

// The same measured again and again scatters as its error says.
func TestPatternErrorIsItsScatter(t *testing.T) {
	if testing.Short() {
		t.Skip("ten nights for one scatter; the test above holds single ones to their errors")
	}
	var pulls []float64
	for seed := range uint64(10) {
		f, truth := simPattern{100 + seed, "even", 0.8, 4, 5, dithered}.found()
		pulls = append(pulls, (f.Pattern.V-truth)/f.Pattern.Err)
	}
	mean, sd := stats.Mean(pulls), math.Sqrt(stats.Variance(pulls))
	t.Logf("pulls %.2f: mean %.2f, sd %.2f", pulls, mean, sd)
	// The spread of ten is known to a quarter; the error holds what stars may leave, beside.
	if sd < 0.4 || sd > 1.6 || !(math.Abs(mean) <= 1) {
		t.Errorf("pulls have a mean of %.2f and a spread of %.2f", mean, sd)
	}
}
