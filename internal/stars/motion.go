package stars

import (
	"math"
	"slices"
	"time"

	"fitsqa/internal/stats"
)

// Motion is how the pointing moved over the subs of one target.
type Motion struct {
	Dither   stats.Value // px, rms distance of the subs from the straight drift: the size of the dither
	Drift    stats.Value // px/h, speed of the straight drift, fixed to no sensor direction
	Rotation stats.Value // °/h, counter-clockwise: field rotation, what a misaligned polar axis does
	Jumps    []int       // indices of subs before which the pointing jumped far beyond the usual step
}

// MotionOf sums up alignments with their times (zero: unknown), in any order.
// A pier flip, a jump or a gap of more than an hour begins a new stretch: drift
// and rotation are medians of the slopes between pairs of subs within stretches
// (Theil 1950, Sen 1968, JASA 63, 1379), which dithers and single jumps hardly
// touch. A drift with a dither smaller than it is what draws the sensor's fixed
// pattern out into streaks ("walking noise").
func MotionOf(al []Alignment, times []time.Time) Motion {
	stretches, jumps := cutAtJumps(stretchesOf(al, times))
	var sx, sy, sr []float64
	n := 0
	for _, st := range stretches {
		for i, b := range st {
			n++
			for _, a := range st[:i] {
				if dt := b.hours - a.hours; dt > 0.05 {
					sx, sy, sr = append(sx, (b.x-a.x)/dt), append(sy, (b.y-a.y)/dt), append(sr, math.Remainder(b.turn-a.turn, 360)/dt)
				}
			}
		}
	}
	if len(sx) < 3 {
		why := "fewer than three pairs of matched subs with known times, minutes apart"
		return Motion{Dither: stats.Missing(why), Drift: stats.Missing(why), Rotation: stats.Missing(why), Jumps: jumps}
	}
	vx, vy := medianOf(sx), medianOf(sy)
	m := Motion{
		Drift:    stats.Known(math.Hypot(vx, vy), slopeError(sx, sy, n), n),
		Rotation: stats.Known(medianOf(sr), 1.2533*stats.MADSigma(sr)/math.Sqrt(float64(n)), n),
		Jumps:    jumps,
	}
	var square []float64
	for _, st := range stretches {
		var x, y []float64
		for _, a := range st {
			x, y = append(x, a.x-vx*a.hours), append(y, a.y-vy*a.hours)
		}
		mx, my := medianOf(x), medianOf(y)
		for i := range st {
			square = append(square, (x[i]-mx)*(x[i]-mx)+(y[i]-my)*(y[i]-my))
		}
	}
	m.Dither = stats.Known(math.Sqrt(stats.Mean(square)), math.NaN(), n)
	return m
}

// cutAtJumps begins a new stretch where a step is no dither: six times the
// usual step and no less than 3 px (common practice, no source). It gives the
// subs after the jumps too.
func cutAtJumps(stretches [][]pointing) (out [][]pointing, jumps []int) {
	var steps []float64
	for _, st := range stretches {
		for i := range st[1:] {
			steps = append(steps, math.Hypot(st[i+1].x-st[i].x, st[i+1].y-st[i].y))
		}
	}
	if len(steps) == 0 {
		return stretches, nil
	}
	limit := max(3, 6*medianOf(steps))
	for _, st := range stretches {
		from := 0
		for i := 1; i < len(st); i++ {
			if math.Hypot(st[i].x-st[i-1].x, st[i].y-st[i-1].y) > limit {
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
	hours, x, y, turn float64
	flipped           bool
}

// stretchesOf sorts matched subs by time and cuts at flips and long gaps.
func stretchesOf(al []Alignment, times []time.Time) [][]pointing {
	var all []pointing
	var first time.Time
	for i := range al {
		if !al[i].Matched() || times[i].IsZero() {
			continue
		}
		if first.IsZero() {
			first = times[i]
		}
		p := pointing{index: i, hours: times[i].Sub(first).Hours(), x: al[i].ShiftX.V, y: al[i].ShiftY.V, turn: al[i].RotationDeg.V, flipped: al[i].Flipped}
		if p.flipped { // back into the reference's orientation
			p.x, p.y = -p.x, -p.y
		}
		all = append(all, p)
	}
	slices.SortStableFunc(all, func(a, b pointing) int {
		switch {
		case a.hours < b.hours:
			return -1
		case a.hours > b.hours:
			return 1
		}
		return 0
	})
	var out [][]pointing
	for i, p := range all {
		if i == 0 || p.flipped != all[i-1].flipped || p.hours-all[i-1].hours > 1 {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], p)
	}
	return out
}

func slopeError(sx, sy []float64, n int) float64 {
	return 1.2533 * math.Hypot(stats.MADSigma(sx), stats.MADSigma(sy)) / math.Sqrt2 / math.Sqrt(float64(n))
}
