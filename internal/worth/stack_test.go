package worth

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// night is n raw subs of a simulated camera and where each lies, e-.
type simNight struct {
	c            *simCamera
	seconds, sky float64
	subs         [][]float64
	shifts       [][2]int
}

func (c *simCamera) night(n int, seconds, sky float64, shift func(k int) (x, y int)) *simNight {
	s := &simNight{c: c, seconds: seconds, sky: sky}
	for k := range n {
		sub := make([]float64, c.w*c.h)
		for i := range sub {
			sub[i] = c.charge(i, seconds, sky*seconds)
		}
		x, y := shift(k)
		s.subs, s.shifts = append(s.subs, sub), append(s.shifts, [2]int{x, y})
	}
	return s
}

// places of the subs, as the registration finds them.
func (s *simNight) places() []Place {
	var p []Place
	for _, d := range s.shifts {
		p = append(p, Place{A: 1, C: float64(d[0]), E: 1, F: float64(d[1])})
	}
	return p
}

// master is the mean of n exposures without light. That of many bias frames is
// drawn as what it is: a normal mean and a binomial one.
func (c *simCamera) master(n int, seconds float64) []float64 {
	m := make([]float64, c.w*c.h)
	if seconds > 0 || n <= 50 {
		for range n {
			for i := range m {
				m[i] += c.charge(i, seconds, 0) / float64(n)
			}
		}
		return m
	}
	root := math.Sqrt(float64(n))
	for i := range m {
		m[i] = c.fixed[i] + c.read/root*c.rng.NormFloat64()
		if c.jumps[i] {
			m[i] += c.jump * (0.5 + 0.5/root*c.rng.NormFloat64())
		}
	}
	return m
}

// stacked is the registered mean less master (nil: none), and at how many
// pixels a hot one of the sensor stands out by each rejection, from where most pixels
// without one lie after it.
func (s *simNight) stacked(master []float64, dark bool) (noise float64, left [3]float64) {
	c := s.c
	pixels, n := c.w*c.h, len(s.subs)
	mean := make([]float64, pixels)
	at := func(k, i int) float64 { // of sub k at pixel i of the stack
		x, y := (i%c.w-s.shifts[k][0]+2*c.w)%c.w, (i/c.w-s.shifts[k][1]+2*c.h)%c.h
		j := y*c.w + x
		v := s.subs[k][j] - s.sky*s.seconds
		if master != nil {
			v -= master[j]
		}
		if !dark && !c.clamped {
			v -= c.dark * s.seconds
		}
		if !dark {
			v -= c.shine[j] * s.seconds
		}
		return v
	}
	touched := make([]bool, pixels)
	for k := range n {
		for i := range pixels {
			x, y := (i%c.w-s.shifts[k][0]+2*c.w)%c.w, (i/c.w-s.shifts[k][1]+2*c.h)%c.h
			touched[i] = touched[i] || c.hot[y*c.w+x]
			mean[i] += at(k, i) / float64(n)
		}
	}
	noise = c.noiseOf(mean, func(i int) bool { return touched[i] || c.shine[i] > 0.02*s.sky })
	sub := math.Sqrt(s.sky*s.seconds + c.dark*s.seconds + c.read*c.read)
	values := make([]float64, n)
	stack := func(i int) [3]float64 {
		for k := range n {
			values[k] = at(k, i)
		}
		return [3]float64{stats.Mean(values), byDeviation(values), byKnown(values, sub)}
	}
	var others [3][]float64
	for i := 0; i < pixels; i += 16 { // 4000 tell the level to a fiftieth of the noise
		if !touched[i] && c.shine[i] <= 0.02*s.sky {
			for by, v := range stack(i) {
				others[by] = append(others[by], v)
			}
		}
	}
	var level [3]float64
	for by := range level {
		level[by] = stats.Median(others[by])
	}
	for i := range pixels {
		if !touched[i] {
			continue
		}
		for by, v := range stack(i) {
			if !(math.Abs(v-level[by]) <= standsOut*noise) {
				left[by]++
			}
		}
	}
	return noise, left
}

// byDeviation is the mean without values beyond 3 standard deviations of what
// is left, until none falls.
func byDeviation(values []float64) float64 {
	v := slices.Clone(values)
	for len(v) > 2 {
		mean, sd := stats.Mean(v), 0.0
		for _, x := range v {
			sd += (x - mean) * (x - mean) / float64(len(v)-1)
		}
		sd = math.Sqrt(sd)
		kept := slices.DeleteFunc(slices.Clone(v), func(x float64) bool { return math.Abs(x-mean) > 3*sd })
		if len(kept) == len(v) {
			break
		}
		v = kept
	}
	return stats.Mean(v)
}

// byKnown is the mean without values beyond 5 times the known noise from the median.
func byKnown(values []float64, noise float64) float64 {
	median := stats.Median(values)
	return stats.Mean(slices.DeleteFunc(slices.Clone(values), func(x float64) bool { return math.Abs(x-median) > 5*noise }))
}

// noiseOf is the spread of a stack apart from pixels that are left out, from
// those that stand out and from what is smooth: of the differences of neighbours.
func (c *simCamera) noiseOf(stack []float64, leave func(i int) bool) float64 {
	var d []float64
	for i := 1; i < len(stack); i++ {
		if i%c.w != 0 && !leave(i) && !leave(i-1) {
			d = append(d, stack[i]-stack[i-1])
		}
	}
	return stats.SigmaClip(d, 5, 50).SD / math.Sqrt2
}
