package subs

import (
	"math"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The worked value is scipy.stats.spearmanr([1,2,3,4,5],[5,6,7,8,7]) =
// 0.8207826816681233 (SciPy documentation), which has a tie.
func TestRankCorrelation(t *testing.T) {
	if got := rankCorrelation([]float64{1, 2, 3, 4, 5}, []float64{5, 6, 7, 8, 7}); !(math.Abs(got-0.8207826816681233) <= 1e-15) {
		t.Errorf("%.16f", got)
	}
	if got := rankCorrelation([]float64{1, 2, 3}, []float64{4, 4, 4}); !math.IsNaN(got) {
		t.Errorf("of equal figures: %v", got)
	}
}

// A course is steady from a rank correlation of 0.7 on: the orders below have 0.82,
// 0.73, 0.67 and 0.55 (1 - 6 sum d²/(n³-n)).
func TestSteadyFromARankCorrelation(t *testing.T) {
	begin := time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		order []int // places of the sizes 1.60, 1.65 ... in time
		want  fact.Code
	}{
		{[]int{0, 1, 5, 3, 4, 2, 8, 9, 6, 10, 7}, Steadily},
		{[]int{0, 1, 6, 3, 4, 2, 7, 10, 8, 9, 5}, Steadily},
		{[]int{0, 1, 2, 9, 4, 7, 6, 3, 8, 5, 10}, NeighboursSoft},
		{[]int{8, 1, 2, 3, 4, 0, 6, 7, 5, 9, 10}, NeighboursSoft},
	} {
		e := &evidence{Sub: &Sub{Start: begin, Field: &stars.Field{}}, fwhm: 1.6 + 0.05*float64(c.order[5]), rank: 5}
		for i, size := range c.order {
			if i == 5 {
				e.mates = append(e.mates, e)
				continue
			}
			e.mates = append(e.mates, &evidence{Sub: &Sub{Start: begin.Add(time.Duration(i-5) * time.Minute)}, fwhm: 1.6 + 0.05*float64(size)})
		}
		var times, sizes []float64
		for i, o := range e.mates {
			times, sizes = append(times, float64(i)), append(sizes, o.fwhm)
		}
		if got := e.softKind(); !fact.Has(got, c.want) {
			t.Errorf("rank correlation %.2f: %v, want %q", rankCorrelation(times, sizes), got, c.want)
		}
	}
}

// A mount that jumps once leaves round stars: only their doubles tell, whatever
// share of the light the jump cut off. Ghosts that every sub has are none of it.
func TestJump(t *testing.T) {
	double := func(s *Sub, share float64) {
		s.Field.Double = stars.Double{X: 9, Y: -4, Share: stats.Known(share, 0.005, 40)}
	}
	for share, want := range map[float64]Verdict{0: Keep, 0.04: Doubtful, 0.2: Cull, 0.5: Cull} {
		night := makeNight(4, "R", 20, nil)
		double(night[7], share)
		Judge(night, DefaultLimits)
		for i, s := range night {
			switch {
			case i != 7 && s.Verdict != Keep:
				t.Errorf("share %.2f: bystander %s", share, told(s))
			case i == 7 && (s.Verdict != want || want != Keep && s.Causes[0] != Trailed):
				t.Errorf("share %.2f: %s %v %s", share, s.Verdict, s.Causes, told(s))
			}
		}
	}
	night := makeNight(4, "R", 20, nil)
	for _, s := range night {
		double(s, 0.06)
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
}

func TestSoftAndTrailKinds(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(i int, tr *truth)
		spoil  func(i int, s *Sub)
		look   int
		want   string
	}{
		{"seeing", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.6, false: 1}[i == 9] }, nil, 9, "neighbours_sharp"},
		{"drift", func(i int, tr *truth) { tr.fwhm *= 1 + 0.06*math.Max(0, float64(i-6)) }, nil, 16, "steadily"},
		{"cooling", func(i int, tr *truth) { tr.fwhm *= 1 + 0.06*math.Max(0, float64(i-6)) }, func(i int, s *Sub) { s.AmbientTemp = 9 - 0.4*float64(i) }, 16, "with_temperature range_c="},
		{"flip", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.7, false: 1}[i >= 10] }, func(i int, s *Sub) { s.Align.Flipped = i >= 10 }, 12, "since_flip"},
		{"spell", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.7, false: 1}[i >= 10 && i < 16] }, nil, 13, "neighbours_soft"},
		{"end of a spell", func(i int, tr *truth) { tr.fwhm *= map[bool]float64{true: 1.7, false: 1}[i >= 10 && i < 16] }, nil, 15, "neighbours_soft"},
		{"refocused", func(i int, tr *truth) {
			tr.fwhm *= 1 + 0.15*math.Max(0, float64(i-8))*map[bool]float64{true: 1}[i < 14]
		}, nil, 13, "neighbours_soft"},
		{"rings", nil, func(i int, s *Sub) {
			if i == 5 {
				s.Field.Defocused, s.Field.FWHM, s.Field.HFD = true, stats.Missing("rings"), stats.Known(11, 0, 50)
			}
		}, 5, "ring_width hfd_px=11 "},
		{"tracking", func(i int, tr *truth) {
			if i >= 5 && i < 9 {
				tr.ellipticity, tr.coherence, tr.angle = 0.4, 0.95, 88+4*float64(i%2) // 92° and 88° are all but one direction
			}
		}, nil, 6, "like_neighbours"},
		{"wind", func(i int, tr *truth) {
			if i >= 5 && i < 9 {
				tr.ellipticity, tr.coherence, tr.angle = 0.4, 0.95, []float64{-60, 25, 80, -15}[i-5]
			}
		}, nil, 6, "unlike_neighbours"},
	} {
		t.Run(c.name, func(t *testing.T) {
			night := makeNight(6, "R", 20, c.change)
			for i, s := range night {
				if c.spoil != nil {
					c.spoil(i, s)
				}
			}
			Judge(night, DefaultLimits)
			if s := night[c.look]; s.Verdict != Cull || !strings.Contains(told(s), c.want) {
				t.Errorf("%s %v: %q, want %q in it", s.Verdict, s.Causes, told(s), c.want)
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
		if !fact.Has(one[i].Findings[0].Facts, SinceFilter) {
			t.Errorf("%s: %q", one[i].File, told(one[i]))
		}
	}
}

// A target that sinks is softer by its altitude alone, which is no lost focus; what
// is lost on top of it is, and so is what no altitude tells.
func TestSoftByAltitude(t *testing.T) {
	begin := time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)
	sinking := func(blur float64, known bool) *evidence {
		var all []*evidence
		for i := range 20 {
			x := 1.2 + 0.1*float64(i)
			s := &Sub{Start: begin.Add(time.Duration(5*i) * time.Minute), Field: &stars.Field{}, AmbientTemp: 10 - 0.1*float64(i)}
			s.Sky.Airmass = stats.Missing("the site is unknown")
			if known {
				s.Sky.Airmass = stats.Known(x, math.NaN(), 1)
			}
			scatter := 1 + 0.02*float64(i%3-1)
			all = append(all, &evidence{Sub: s, rank: i, fwhm: scatter * math.Pow(x/1.2, 0.6) * (1 + blur*float64(i)/19)})
		}
		for _, e := range all {
			e.mates = all
		}
		return all[18]
	}
	steady := sinking(0, true) // widths that the optics make, or the air near the ground
	for _, o := range steady.mates {
		o.fwhm = 1 + 0.02*float64(o.rank%3-1)
	}
	steady.fwhm = 1.2
	for _, c := range []struct {
		what string
		e    *evidence
		low  bool
		want fact.Code
	}{
		{"one wide among steady ones", steady, false, NeighboursSharp},
		{"seeing alone", sinking(0, true), true, LowInSky},
		{"a little beside it", sinking(0.06, true), true, LowInSky},
		{"focus as well", sinking(0.3, true), false, Steadily},
		{"much of it", sinking(0.8, true), false, Steadily},
		{"altitude unknown", sinking(0, false), false, SteadilyUnplaced},
	} {
		if got := c.e.softKind(); c.e.low() != c.low || !fact.Has(got, c.want) {
			t.Errorf("%s: low %v, %v", c.what, c.e.low(), got)
		}
	}
}

// Soft subs side by side are each other's neighbours, be they two; a single one's are sharp.
func TestSoftNeighbours(t *testing.T) {
	for length, want := range map[int]fact.Code{1: NeighboursSharp, 2: NeighboursSoft, 3: NeighboursSoft} {
		night := makeNight(8, "L", 24, func(i int, tr *truth) {
			if between(i, 10, 10+length) {
				tr.fwhm *= 1.7
			}
		})
		Judge(night, DefaultLimits)
		for _, s := range night[10 : 10+length] {
			if s.Causes[0] != Soft || !fact.Has(s.Findings[0].Facts, want) {
				t.Errorf("%d in a row: %s %v %s, want %s", length, s.File, s.Causes, told(s), want)
			}
		}
	}
}

// Under coarse pixels a star in focus is 20 arcsec wide already, and one out of focus wider
// than any seeing, without a ring: it is a star all the same. Images three times as wide, that
// are no rings, may be none.
func TestSoftUnderCoarsePixels(t *testing.T) {
	for times, want := range map[float64]Verdict{2.2: Cull, 4: Doubtful} {
		night := makeNight(31, "L", 20, nil)
		for i, s := range night {
			s.PixelScale = 18 / s.Field.FWHM.V
			if i >= 14 {
				s.PixelScale = night[0].PixelScale
				s.Field.FWHM = s.Field.FWHM.Scaled(times)
			}
		}
		Judge(night, DefaultLimits)
		for _, s := range night[14:] {
			if s.Verdict != want || s.Causes[0] != Soft {
				t.Errorf("%v times as wide: %s %v %v, want %v: %s", times, s.File, s.Verdict, s.Causes, want, told(s))
			}
		}
	}
}

// Trails of neighbours tell tracking where they lie as the sub's does, gusts where they lie
// any way, and nothing in between. Truth is the angle: cos 2θ of 10, 22 and 60° is 0.94, 0.72, -0.5.
func TestTrailsOfNeighbours(t *testing.T) {
	for deg, want := range map[float64]fact.Code{10: LikeNeighbours, 22: "", 60: UnlikeNeighbours} {
		var night []*evidence
		for i, s := range makeNight(4, "L", 7, nil) {
			e := &evidence{Sub: s, lim: DefaultLimits, place: i, trail: 0.4, trailAngle: deg * math.Pi / 180, drifts: map[bool]drift{}}
			night = append(night, e)
		}
		for _, e := range night {
			e.night = night
		}
		night[3].trailAngle = 0
		got := night[3].trailKind()
		if want == "" && got != nil || want != "" && !fact.Has(got, want) {
			t.Errorf("%g°: %v, want %q", deg, got, want)
		}
	}
}
