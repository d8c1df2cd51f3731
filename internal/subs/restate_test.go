package subs

import (
	"slices"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// Where seeing scatters, the limit on width follows the average of what is left, round by
// round; all culled subs of a group are told by one limit and one baseline.
func TestOneLimitAGroup(t *testing.T) {
	several := 0
	for seed := range uint64(12) {
		night := makeNight(seed, "L", 40, func(i int, tr *truth) {
			tr.fwhm *= 1 + 0.25*float64(i*7%5)
			if i%9 == 0 {
				tr.fwhm, tr.transparency, tr.uneven, tr.sky = 5, 0.4, 9, 1.5
			}
		})
		Judge(night, DefaultLimits)
		limits, bases, soft := map[float64]bool{}, map[float64]bool{}, 0
		for _, s := range night {
			if s.Verdict != Cull || s.Causes[0] != Soft {
				continue
			}
			soft++
			for _, f := range s.Findings[0].Facts {
				note(limits, f, CrossedLimit, "limit")
				note(bases, f, Width, "baseline_px")
			}
		}
		if soft > 1 {
			several++
		}
		if len(limits) > 1 || len(bases) > 1 {
			t.Errorf("seed %d: %d soft subs are held against limits %v of baselines %v", seed, soft, limits, bases)
		}
	}
	if several < 6 {
		t.Errorf("only %d nights with several soft subs", several)
	}
}

// note a value of a fact.
func note(seen map[float64]bool, f fact.Fact, code fact.Code, name string) {
	if v, ok := f.Value(name); ok && f.Code == code {
		seen[v.Number] = true
	}
}

// The sky that is hidden tells of a cover whatever width the one star that is left has.
func TestObstructedWithoutStars(t *testing.T) {
	night := makeNight(4, "Ha", 20, func(i int, tr *truth) { tr.stars = 30 })
	s := night[7]
	s.Field.Count, s.Field.FWHM = 5, stats.Known(9, 8, 1)
	s.Transparency = photometry.Transparency{Ratio: stats.Missing("too few stars"), Unevenness: stats.Missing("too few stars"), Covered: stats.Known(0.3, 0.02, 0)}
	Judge(night, DefaultLimits)
	if s.Verdict != Cull || !slices.Contains(s.Causes, Obstructed) {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
}
