package registration

import (
	"math"
	"slices"
	"time"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Motion is how the pointing moved over subs of one target.
type Motion struct {
	Dither   stats.Value // px, rms distance of the subs from the smooth path that they follow, by the steps between consecutive dithers: the size of the dither
	Drift    stats.Value // px/h, speed of the straight drift, fixed to no sensor direction
	Rotation stats.Value // °/h, counter-clockwise: field rotation, what a misaligned polar axis does
	Jumps    []int       // indices of subs before which the pointing jumped far beyond the usual step
}

// MotionOf sums up alignments with their times (zero: unknown), in any order.
// A pier flip, a camera turned by hand or by its rotator, a jump or a gap of more
// than an hour begins a new stretch: rotation, and drift where each sub is dithered,
// are medians of the slopes between pairs of subs within stretches
// (Theil 1950, Sen 1968, JASA 63, 1379), which dithers and single jumps hardly
// touch. A drift with a dither smaller than it is what draws the sensor's fixed
// pattern out into streaks ("walking noise").
//
// The drift is no part of the dither, since it moves the fixed pattern on in
// small even steps and scatters it little.
func MotionOf(al []Alignment, times []time.Time) Motion {
	all := stretchesOf(al, times)
	markDithers(all)
	stretches, jumps := cutAtJumps(all)
	sx, sy, sr, n := slopes(stretches)
	if len(sx) < 3 {
		none := stats.Missing(stars.FewPairsOfSubs)
		return Motion{Dither: dither(stretches), Drift: none, Rotation: none, Jumps: jumps}
	}
	return Motion{
		Dither:   dither(stretches),
		Drift:    drift(stretches, sx, sy, n),
		Rotation: stats.Known(stats.Median(sr), stats.MedianErr*stats.MADSigma(sr)/math.Sqrt(float64(n)), n),
		Jumps:    jumps,
	}
}

// mostMates is how many earlier subs of its stretch each is paired with, evenly spread
// over them. More would hardly steady the median, which rests on the subs and not on the
// number of their pairs, and all pairs of five thousand subs take 300 MB.
const mostMates = 200

// slopes are those of x and y, px/h, and of the angle, °/h, between subs of one stretch
// that are minutes apart, and how many subs have a time.
func slopes(stretches [][]pointing) (sx, sy, sr []float64, timed int) {
	for _, st := range stretches {
		for i, b := range st {
			if b.timed {
				timed++
			}
			step := 1 + i/(mostMates+1)
			for k := i % step; k < i; k += step {
				a := st[k]
				if dt := b.hours - a.hours; dt > 0.05 {
					sx, sy, sr = append(sx, (b.x-a.x)/dt), append(sy, (b.y-a.y)/dt), append(sr, math.Remainder(b.turn-a.turn, 360)/dt)
				}
			}
		}
	}
	return sx, sy, sr, timed
}

// cutAtJumps begins a new stretch where a step is no dither: six times the
// usual one and no less than 3 px (common practice, no source). It gives the
// subs after the jumps too. Subs without a time have no order to jump in.
func cutAtJumps(stretches [][]pointing) (out [][]pointing, jumps []int) {
	var steps []float64
	for _, st := range stretches {
		for i := range st[1:] {
			if !st[i].timed {
				break
			}
			if st[i+1].dithered {
				steps = append(steps, math.Hypot(st[i+1].x-st[i].x, st[i+1].y-st[i].y))
			}
		}
	}
	if len(steps) == 0 {
		return stretches, nil
	}
	limit := max(3, 6*stats.Median(steps))
	for _, st := range stretches {
		from := 0
		for i := 1; i < len(st); i++ {
			if st[i].timed && math.Hypot(st[i].x-st[i-1].x, st[i].y-st[i-1].y) > limit {
				jumps = append(jumps, st[i].index)
				out = append(out, st[from:i])
				from = i
			}
		}
		out = append(out, st[from:])
	}
	slices.Sort(jumps)
	return out, jumps
}
