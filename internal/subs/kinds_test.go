package subs

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/measure"
	"fitsqa/internal/stats"
)

// The worked value is scipy.stats.spearmanr([1,2,3,4,5],[5,6,7,8,7]) =
// 0.8207826816681233 (SciPy documentation), which has a tie.
func TestRankCorrelation(t *testing.T) {
	if got := rankCorrelation([]float64{1, 2, 3, 4, 5}, []float64{5, 6, 7, 8, 7}); math.Abs(got-0.8207826816681233) > 1e-15 {
		t.Errorf("%.16f", got)
	}
	if got := rankCorrelation([]float64{1, 2, 3}, []float64{4, 4, 4}); !math.IsNaN(got) {
		t.Errorf("of equal figures: %v", got)
	}
}

// field is stars at random places, brightest first, each with a second image
// of the given share at the offset, and shapeless chance companions.
func field(seed uint64, n int, dx, dy, second float64) *stars.Field {
	rng := rand.New(rand.NewPCG(seed, 1))
	f := &stars.Field{Width: 1600, Height: 1200}
	for range n {
		s := stars.Star{X: 1600 * rng.Float64(), Y: 1200 * rng.Float64(), Flux: math.Pow(rng.Float64(), -1.2)}
		f.Stars = append(f.Stars, s)
		if second > 0 {
			f.Stars = append(f.Stars, stars.Star{X: s.X + dx + 0.2*rng.NormFloat64(), Y: s.Y + dy + 0.2*rng.NormFloat64(), Flux: s.Flux * second})
		}
	}
	slices.SortFunc(f.Stars, func(a, b stars.Star) int { return cmp.Compare(b.Flux, a.Flux) })
	return f
}

func TestCompanions(t *testing.T) {
	for seed := range uint64(20) {
		for _, n := range []int{30, 300, 3000} {
			if _, _, share := companions(field(seed, n, 0, 0, 0)); share > doubleShare/2 {
				t.Errorf("seed %d, %d single stars: share %.2f", seed, n, share)
			}
		}
		for _, second := range []float64{1, 0.5, 0.25} {
			dx, dy, share := companions(field(seed, 200, -14, 9, second))
			// Offsets are found to half a window of two bins.
			if share < 2*doubleShare || math.Hypot(dx-14, dy+9) > doubleBin*math.Sqrt2 {
				t.Errorf("seed %d, second image %.2f: share %.2f at %.0f,%.0f", seed, second, share, dx, dy)
			}
		}
	}
	// A satellite's track broken into false stars, brighter than all true ones.
	f := field(1, 100, 0, 0, 0)
	var track []stars.Star
	for i := range 200 {
		along := 8 * float64(i*81%200) // in no order along the track
		track = append(track, stars.Star{X: along, Y: 200 + along/2, Flux: 1e6})
	}
	f.Stars = append(track, f.Stars...)
	if _, _, share := companions(f); share > doubleShare/2 {
		t.Errorf("a track: share %.2f", share)
	}
	if _, _, share := companions(field(1, doubleFewest-1, 0, 0, 0)); share != 0 {
		t.Errorf("too few stars: share %v", share)
	}
}

// A mount that jumps once leaves round stars: only their doubles tell. Ghosts
// that every sub has are none of it.
func TestJump(t *testing.T) {
	night := makeNight(4, "R", 20, nil)
	for i, s := range night {
		f := field(uint64(i), 120, 20, 6, map[bool]float64{true: 0.7}[i == 7])
		s.Field.Stars = f.Stars
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: Trailed}[i == 7] }, nil)
	for i, s := range night {
		s.Field.Stars = field(uint64(i), 120, 20, 6, 0.3).Stars
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
}

// The same from pixels: star images of 3.4 px, 60 % of the light before a jump
// and 40 % after it, through the detection that subs go through.
func TestJumpOnPixels(t *testing.T) {
	const w, h = 640, 480
	rng := rand.New(rand.NewPCG(3, 9))
	measure := func(parts ...float64) *stars.Field {
		data := make([]float32, w*h)
		for i := range data {
			data[i] = float32(1000 + 32*rng.NormFloat64())
		}
		places := rand.New(rand.NewPCG(5, 5)) // the same stars each time
		for range 150 {
			x, y, flux := 20+(w-60)*places.Float64(), 20+(h-60)*places.Float64(), 4000*math.Pow(places.Float64(), -1.2)
			for k, part := range parts {
				drawStar(data, w, x+13*float64(k), y+8*float64(k), part*math.Min(flux, 1e6))
			}
		}
		f, err := measure.Measure(data, w, h, stars.DefaultOptions)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	if _, _, share := companions(measure(1)); share > doubleShare/2 {
		t.Errorf("without a jump: share %.2f", share)
	}
	// The offset is found to half a window of two bins.
	if dx, dy, share := companions(measure(0.6, 0.4)); share < 1.5*doubleShare || math.Hypot(dx-13, dy-8) > doubleBin*math.Sqrt2 {
		t.Errorf("with a jump of 13, 8 px: share %.2f at %.0f, %.0f", share, dx, dy)
	}
}

// drawStar adds a Gaussian of 3.4 px FWHM.
func drawStar(data []float32, w int, x, y, flux float64) {
	const s2 = 3.4 * 3.4 / (2.35482 * 2.35482)
	for j := int(y) - 8; j <= int(y)+8; j++ {
		for i := int(x) - 8; i <= int(x)+8; i++ {
			r2 := (float64(i)-x)*(float64(i)-x) + (float64(j)-y)*(float64(j)-y)
			data[j*w+i] += float32(flux / (2 * math.Pi * s2) * math.Exp(-r2/2/s2))
		}
	}
}

func TestSoftAndTrailKinds(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(i int, tr *truth)
		spoil  func(i int, s *Sub)
		look   int
		want   string
	}{
		{"seeing", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.6, false: 1}[i == 9] }, nil, 9, "its neighbours are sharp: seeing or wind"},
		{"drift", func(i int, tr *truth) { tr.fwhm *= 1 + 0.06*math.Max(0, float64(i-6)) }, nil, 16, "changing steadily: focus drift"},
		{"cooling", func(i int, tr *truth) { tr.fwhm *= 1 + 0.06*math.Max(0, float64(i-6)) }, func(i int, s *Sub) { s.AmbientTemp = 9 - 0.4*float64(i) }, 16, "changing steadily with the air temperature ("},
		{"flip", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.7, false: 1}[i >= 10] }, func(i int, s *Sub) { s.Align.Flipped = i >= 10 }, 12, "since the flip: focus"},
		{"spell", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.7, false: 1}[i >= 10 && i < 16] }, nil, 13, "and so are its neighbours: focus, or a spell of bad seeing"},
		{"rings", nil, func(i int, s *Sub) {
			if i == 5 {
				s.Field.Defocused, s.Field.FWHM, s.Field.HFD = true, stats.Missing("rings"), stats.Known(11, 0, 50)
			}
		}, 5, "half-flux diameter 11.0 px, "},
		{"tracking", func(i int, tr *truth) {
			if i >= 5 && i < 9 {
				tr.ellipticity, tr.coherence, tr.angle = 0.4, 0.95, 88+4*float64(i%2) // 92° and 88° are all but one direction
			}
		}, nil, 6, "as in its neighbours: tracking"},
		{"wind", func(i int, tr *truth) {
			if i >= 5 && i < 9 {
				tr.ellipticity, tr.coherence, tr.angle = 0.4, 0.95, []float64{-60, 25, 80, -15}[i-5]
			}
		}, nil, 6, "unlike its neighbours: wind"},
	} {
		t.Run(c.name, func(t *testing.T) {
			night := makeNight(6, "R", 20, c.change)
			for i, s := range night {
				if c.spoil != nil {
					c.spoil(i, s)
				}
			}
			Judge(night, DefaultLimits)
			if s := night[c.look]; s.Verdict != Cull || !strings.Contains(s.Sentence, c.want) {
				t.Errorf("%s %v: %q, want %q in it", s.Verdict, s.Causes, s.Sentence, c.want)
			}
		})
	}
}

// After a filter change the focus is off until the next one.
func TestSoftSinceFilterChange(t *testing.T) {
	one := makeNight(7, "R", 24, func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.6, false: 1}[i >= 16] })
	for i, s := range one {
		if i >= 8 && i < 16 {
			s.Filter, s.Stack = "G", 1
		}
	}
	Judge(one, DefaultLimits)
	for i := 16; i < 24; i++ {
		if !strings.Contains(one[i].Sentence, "since the filter change: focus") {
			t.Errorf("%s: %q", one[i].File, one[i].Sentence)
		}
	}
}
