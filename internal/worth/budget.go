package worth

import "math"

// Case is the noise budget of the finished stack in one case, e- per pixel on the scale of one sub,
// and the hot pixels and the glow left in it.
type Case struct {
	Correction    Correction
	Frames        int     // of the master that is taken off, 0 for nothing
	Dithered      bool    // the subs lie so far apart that less than half is left of the variance that is the same in all
	Sky, DarkShot float64 // e-, like all down to Total: the sd in the mean of all subs
	Read          float64
	FixedPattern  float64 // of dark current and, where nothing is taken off, of the offset
	Master        float64 // noise of the master that is taken off
	Total         float64
	HotMean       float64 // pixels of the stack that stand out for a hot pixel, in a plain mean
	HotScatter    float64 // the same after rejection beyond 3 standard deviations; 10 % where two that meet stay, a third where it takes three
	HotNoise      float64 // the same after rejection beyond 5 times a sub's known noise; those that meet hot ones are taken as alone
	Glow          float64 // e-, height of the glow left in the stack
}

// Darks is how many darks the case takes off.
func (c Case) Darks() int {
	if c.Correction == ByDarks {
		return c.Frames
	}
	return 0
}

// figures are what the budget needs of the camera, in electrons and at the
// subs' temperature.
type figures struct {
	sky        float64 // e-/s, of light alone
	read       float64 // e-, rms over the pixels, jumping ones included
	offset     float64 // e-, pixel to pixel, of the bias
	dark       float64 // e-/s, that makes noise
	pattern    float64 // e-/s, pixel to pixel
	patternErr float64
	spread     float64 // share of the pattern, rms, that darks leave in subs of other temperatures
	glow       glow
	hot        []rate
	pixels     float64 // of the sensor
	full       float64 // e-, where pixels saturate; infinite when not known
	chances    chances // of hot, the same for all corrections
}

// rate is so many hot pixels of so much dark current above the others', e-/s.
type rate struct {
	above float64
	n     float64
}

// budget is the noise of a stack of subs of t seconds that lie so.
func (s figures) budget(by Correction, frames int, t float64, l layout) Case {
	n := float64(l.n)
	c := Case{Correction: by, Frames: frames, Dithered: l.share < 0.5,
		Sky: math.Sqrt(s.sky * t / n), DarkShot: math.Sqrt(s.dark * t / n), Read: s.read / math.Sqrt(n)}
	same := math.Sqrt(l.share) // of what is the same in every sub
	switch by {
	case ByDarks:
		c.Master = math.Sqrt((s.dark*t+s.read*s.read)/float64(frames)) * same
		c.FixedPattern = s.pattern * t * s.spread * math.Sqrt((1-l.share)/n) // no more in one sub than less in another
	case ByBias:
		c.Master = s.read / math.Sqrt(float64(frames)) * same
		c.FixedPattern = s.pattern * t * same
	default:
		c.FixedPattern = math.Hypot(s.pattern*t, s.offset) * same
	}
	if by != ByDarks {
		c.Glow = s.glow.rate * t
	}
	c.Total = math.Sqrt(c.Sky*c.Sky + c.DarkShot*c.DarkShot + c.Read*c.Read + c.FixedPattern*c.FixedPattern + c.Master*c.Master)
	return c
}

func (s figures) counted(by Correction, frames int, t float64, l layout) Case {
	c := s.budget(by, frames, t, l)
	sub := math.Sqrt(s.sky*t + s.dark*t + s.read*s.read)
	fixed := math.Hypot(c.FixedPattern, c.Master) / math.Sqrt(l.share)
	var defects []defect
	hotter := s.hotter()
	for _, r := range s.hot {
		d := s.defect(r.above*t, sub, by, frames, t)
		d.part = r.n / s.pixels / hotter[0]
		defects = append(defects, d)
	}
	for _, m := range l.meeting {
		beside := crowd{n: l.n, subs: m.subs, sub: sub, fixed: fixed, stack: c.Total, defects: defects}
		if beside.rejects() && len(s.hot) > 0 {
			beside.draws = s.chances.of(l.n, m.subs, max(1, int(math.Round(l.share*float64(l.n)))), hotter)
		}
		for k, r := range s.hot {
			c.HotMean += r.n * m.pixels * beside.stays(k, PlainMean)
			c.HotScatter += r.n * m.pixels * beside.stays(k, ByScatter)
			c.HotNoise += r.n * m.pixels * beside.stays(k, ByNoise)
		}
	}
	return c
}

// hotter is the share of the sensor's pixels that are as hot as each class or hotter.
func (s figures) hotter() []float64 {
	share := make([]float64, len(s.hot))
	sum := 0.0
	for k := len(s.hot) - 1; k >= 0; k-- {
		sum += s.hot[k].n / s.pixels
		share[k] = sum
	}
	return share
}

// defect is a hot pixel of so much charge after the correction. A saturated one
// has no noise, not even the sub's, and in a dark-corrected sub it lacks the sky: a hole.
func (s figures) defect(charge, sub float64, by Correction, frames int, t float64) defect {
	full := charge >= saturatedFrom*s.full
	switch {
	case full && by == ByDarks:
		return defect{excess: -s.sky * t, own: -sub * sub}
	case full:
		return defect{excess: s.full, own: -sub * sub}
	case by == ByDarks:
		return defect{own: charge, shared: charge / float64(frames)}
	}
	return defect{excess: charge, own: charge}
}

// saturatedFrom is the share of the full range from which a pixel counts as
// saturated: the mean of darks that hit the top now and then lies under it.
const saturatedFrom = 0.97
