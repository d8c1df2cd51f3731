package registration

import (
	"cmp"
	"math"
	"slices"
	"time"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Motion is how the pointing moved over subs of one target.
type Motion struct {
	Dither   stats.Value // px, rms distance of the subs from the smooth path that they follow, by the steps between consecutive ones: the size of the dither
	Drift    stats.Value // px/h, speed of the straight drift, fixed to no sensor direction
	Rotation stats.Value // °/h, counter-clockwise: field rotation, what a misaligned polar axis does
	Jumps    []int       // indices of subs before which the pointing jumped far beyond the usual step
}

// MotionOf sums up alignments with their times (zero: unknown), in any order.
// A pier flip, a camera turned by hand or by its rotator, a jump or a gap of more
// than an hour begins a new stretch: drift
// and rotation are medians of the slopes between pairs of subs within stretches
// (Theil 1950, Sen 1968, JASA 63, 1379), which dithers and single jumps hardly
// touch. A drift with a dither smaller than it is what draws the sensor's fixed
// pattern out into streaks ("walking noise").
//
// The drift is no part of the dither, since it moves the fixed pattern on in
// small even steps and scatters it little.
func MotionOf(al []Alignment, times []time.Time) Motion {
	stretches, jumps := cutAtJumps(stretchesOf(al, times))
	sx, sy, sr, n := slopes(stretches)
	if len(sx) < 3 {
		none := stats.Missing(stars.FewPairsOfSubs)
		return Motion{Dither: dither(stretches), Drift: none, Rotation: none, Jumps: jumps}
	}
	vx, vy := stats.Median(sx), stats.Median(sy)
	return Motion{
		Dither:   dither(stretches),
		Drift:    stats.Known(math.Hypot(vx, vy), slopeError(sx, sy, n), n),
		Rotation: stats.Known(stats.Median(sr), 1.2533*stats.MADSigma(sr)/math.Sqrt(float64(n)), n),
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

// dither is the rms distance of pointings from the smooth path that they follow,
// by the steps between consecutive ones: of three in a row the second difference
// takes out a path however it curves slowly, and is that of three dithers with a
// variance of 1 + 4 + 1 times theirs (von Neumann 1941, Ann. Math. Statist. 12, 367,
// for first differences; from memory). No times are needed, only the order.
func dither(stretches [][]pointing) stats.Value {
	var sum float64
	triples, n := 0, 0
	for _, st := range stretches {
		for i := 1; i+1 < len(st); i++ {
			x, y := st[i-1].x-2*st[i].x+st[i+1].x, st[i-1].y-2*st[i].y+st[i+1].y
			sum += (x*x + y*y) / 6
			triples++
		}
		if len(st) > 2 {
			n += len(st)
		}
	}
	if triples == 0 {
		return stats.Missing(stars.FewInRow)
	}
	size := math.Sqrt(sum / float64(triples))
	// The rms of two normal coordinates; triples that overlap tell 18/35 of what so
	// many free ones would (their correlations of 2/3 and 1/6, squared and summed).
	free := max(1, float64(triples)*18/35)
	return stats.Known(size, size/(2*math.Sqrt(free)), n)
}

// cutAtJumps begins a new stretch where a step is no dither: six times the
// usual step and no less than 3 px (common practice, no source). It gives the
// subs after the jumps too. Subs without a time have no order to jump in.
func cutAtJumps(stretches [][]pointing) (out [][]pointing, jumps []int) {
	var steps []float64
	for _, st := range stretches {
		for i := range st[1:] {
			if !st[i].timed {
				break
			}
			steps = append(steps, math.Hypot(st[i+1].x-st[i].x, st[i+1].y-st[i].y))
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

// pointing is where one sub's centre falls in the reference.
type pointing struct {
	index             int
	hours, x, y, turn float64 // hours since the first, 0 when the time is unknown
	timed, flipped    bool
}

// cameraTurned is a turn, degrees, between two subs that the sky does not make:
// on an alt-azimuth mount 15°/h and more, but in minutes.
const cameraTurned = 5

// stretchesOf sorts matched subs by time and cuts at flips, turns and long gaps; those
// without a time are a stretch a side of the pier.
func stretchesOf(al []Alignment, times []time.Time) [][]pointing {
	var all []pointing
	var loose [2][]pointing // without a time, by side of the pier
	var first time.Time
	for i := range al {
		if !al[i].Matched() {
			continue
		}
		p := pointing{index: i, x: al[i].ShiftX.V, y: al[i].ShiftY.V, turn: al[i].RotationDeg.V, timed: !times[i].IsZero(), flipped: al[i].Flipped}
		if p.timed {
			if first.IsZero() {
				first = times[i]
			}
			p.hours = times[i].Sub(first).Hours()
		}
		if p.flipped { // back into the reference's orientation
			p.x, p.y = -p.x, -p.y
		}
		switch {
		case p.timed:
			all = append(all, p)
		case p.flipped:
			loose[1] = append(loose[1], p)
		default:
			loose[0] = append(loose[0], p)
		}
	}
	slices.SortStableFunc(all, func(a, b pointing) int { return cmp.Compare(a.hours, b.hours) })
	var out [][]pointing
	for i, p := range all {
		if i == 0 || p.flipped != all[i-1].flipped || p.hours-all[i-1].hours > 1 || math.Abs(math.Remainder(p.turn-all[i-1].turn, 360)) > cameraTurned {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], p)
	}
	for _, st := range loose {
		if len(st) > 0 {
			out = append(out, st)
		}
	}
	return out
}

func slopeError(sx, sy []float64, n int) float64 {
	return 1.2533 * math.Hypot(stats.MADSigma(sx), stats.MADSigma(sy)) / math.Sqrt2 / math.Sqrt(float64(n))
}
