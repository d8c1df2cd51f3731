package report

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// tones are what a sub's pictures say of the stretch that its group needs.
type tones struct {
	Sky, Noise float64   // of the preview; Noise 0 where it shows nothing
	Peaks      []float64 // of the stars in its strip
}

func tonesOf(s *night.Sub, p *frames.Preview) (t tones) {
	t.Sky, t.Noise = skyOf(p.Pixels)
	for _, c := range s.Strip(p) {
		if peak := float64(slices.MaxFunc(c.Pixels, cmp.Compare[float32])); peak > 0 {
			t.Peaks = append(t.Peaks, peak)
		}
	}
	return t
}

// groupStretches are one stretch a group for its previews, and one for its strips of
// stars where any sub has one.
func groupStretches(r *night.Result, all []small) (previews, strips map[int]stretch) {
	groups := map[int][]int{}
	for i, s := range r.Subs {
		if s.HasPicture() {
			groups[s.Stack] = append(groups[s.Stack], i)
		}
	}
	previews, strips = map[int]stretch{}, map[int]stretch{}
	for stack, group := range groups {
		previews[stack] = previewStretch(r, all, group)
		if s, ok := stripStretch(r, all, group); ok {
			strips[stack] = s
		}
	}
	return previews, strips
}

// previewStretch goes by the medians of the group's good subs, or of all where none
// is good.
func previewStretch(r *night.Result, all []small, group []int) stretch {
	use := slices.DeleteFunc(slices.Clone(group), func(i int) bool { return !(all[i].Tones.Noise > 0) })
	if len(use) == 0 {
		return newStretch(0, 1, 1)
	}
	spoiled := func(i int) bool { return r.Subs[i].Verdict != subs.Keep }
	if good := slices.DeleteFunc(slices.Clone(use), spoiled); len(good) > 0 {
		use = good
	}
	var levels, noises []float64
	for _, i := range use {
		levels, noises = append(levels, all[i].Tones.Sky), append(noises, all[i].Tones.Noise)
	}
	return newStretchAt(stats.Median(levels), stats.Median(noises), whiteSigma)
}

// stripStretch goes by the noise of the group's subs, and is white where most of their
// bright stars peak. It is straight at the foot, so that the wings of stars show their
// shape. The second is false where no sub has a strip.
func stripStretch(r *night.Result, all []small, group []int) (stretch, bool) {
	var noises, peaks []float64
	for _, i := range group {
		peaks = append(peaks, all[i].Tones.Peaks...)
		if n := r.Subs[i].NoiseADU; n.OK() && n.V > 0 {
			noises = append(noises, n.V)
		}
	}
	if len(peaks) == 0 || len(noises) == 0 {
		return stretch{}, false
	}
	noise, peak := stats.Median(noises), stats.Median(peaks)
	return newStretch(-noise, math.Max(softSigma*noise, peak/30), peak), true
}
