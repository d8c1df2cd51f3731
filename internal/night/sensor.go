package night

import (
	"context"
	"math"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
	"fitsqa/internal/worth"
)

// Limits of looking at the sensor through subs: more subs and more of the frame
// tell little more and cost time.
const (
	seenSubs   = 20
	seenPixels = 2 << 20
	seenBlock  = 64 // rows that are looked at in one piece
)

// anotherDate is how far apart darks and subs of different dates are.
const anotherDate = 36 * time.Hour

// lookAtSensor asks the subs of a group of the sensor where no darks of their temperature tell, and
// of darks of another date whether they still fit. Subs that cannot be read
// again tell nothing.
func (r *Result) lookAtSensor(ctx context.Context, known *memory, g judgedGroup, in *worth.Input) {
	dark := in.Dark
	if !in.DarksTell() {
		in.Earlier = r.earlierDarks(g.lights)
	}
	switch {
	case !g.calibration.HasOffset || !in.Gain.OK() || g.lights.Frames[0].Image.Planes > 1:
	case !in.DarksTell():
		bare, above, ok := r.Calib.WithoutDark(g.lights)
		if in.MasterTaken = !ok; !ok {
			return
		}
		if g.calibration.DarkTaken {
			in.DarkRate = stats.Known(max(above, 0)*in.Gain.V/in.Exposure, math.NaN(), 1)
		}
		then := r.earlierHot(g.lights)
		seen := seenIn[withoutDarks](known, "sensor without any dark", g, then, func() *worth.Seen { return r.see(ctx, g, &bare) })
		if found := seen(func(s *worth.Seen) withoutDarks { return lookWithout(s, *in, then, g) }); found != nil {
			in.Found, in.Library = &found.Found, found.Library
		}
	case in.DarkFits && apart(dark.Group, g.lights) > anotherDate:
		seen := seenIn[worth.Library](known, "darks of another date", g, nil, func() *worth.Seen { return r.see(ctx, g, &g.calibration) })
		in.Library = seen(func(s *worth.Seen) worth.Library {
			return s.LibraryFor(*in, dark.Group.Frames[0].Meta.Start.Format(time.DateOnly))
		})
	}
}

// withoutDarks is what subs tell where no darks are at hand.
type withoutDarks struct {
	Found   worth.Found
	Library *worth.Library // of the darks whose hot pixels the ledger knows; nil when it knows none
}

func lookWithout(s *worth.Seen, in worth.Input, then *worth.Then, g judgedGroup) withoutDarks {
	w := withoutDarks{Found: s.FoundFor(in, g.calibration.Flattened)}
	if flat := g.calibration.Planes().Flat; !g.calibration.DarkTaken && flat.Len() == g.lights.Width*g.lights.Height {
		pixels := flat.Pixels()
		s.Lift(&w.Found, func(x, y int) float64 { return float64(pixels[y*g.lights.Width+x]) })
	}
	if then != nil {
		l := s.LibraryOfMap(in, flattened(*then, g.lights.Width, g.lights.Height, g.calibration.Planes().Flat))
		w.Library = &l
	}
	return w
}

// flattened are hot pixels of a frame of width by height px as a flat leaves them in subs,
// whose corners it raises. Those without light are left out.
func flattened(then worth.Then, width, height int, flat *stack.Plane) worth.Then {
	if flat.Len() != width*height {
		return then
	}
	hot := then.Hot
	then.Hot = nil
	for _, p := range hot {
		if p.X >= width || p.Y >= height {
			continue
		}
		if light := float64(flat.Strip(p.Y*width+p.X, 1)[0]); light > 0 {
			p.Rate = then.Rate + (p.Rate-then.Rate)/light
			then.Hot = append(then.Hot, p)
		}
	}
	return then
}

// earlierHot are the hot pixels that the ledger knows of darks of another date, shot as
// some subs are; nil for none.
func (r *Result) earlierHot(lights *frames.Group) *worth.Then {
	darks := *lights
	darks.Kind = frames.Dark
	m := sensor.RecallHot(r.Settings.HotMaps, lights.Camera, sensor.Setting(&darks))
	if m == nil || m.Width != lights.Width || m.Height != lights.Height {
		return nil
	}
	night, err := time.Parse(time.DateOnly, m.Night)
	if start := lights.Frames[0].Meta.Start; err != nil || !start.IsZero() && start.Sub(night).Abs() <= anotherDate {
		return nil
	}
	return &worth.Then{Date: m.Night, Hot: m.Pixels, All: m.All, Rate: m.Rate}
}

// earlierDarks is what the ledger holds of darks shot as some subs are; nil for nothing.
func (r *Result) earlierDarks(lights *frames.Group) *worth.Earlier {
	darks := *lights
	darks.Kind = frames.Dark
	setting := sensor.Setting(&darks)
	var e worth.Earlier
	e.Pattern, _ = sensor.Recall(r.Settings.Camera, lights.Camera, setting, "warm_nonuniformity_e_per_s")
	if !e.Pattern.OK() {
		return nil
	}
	e.Glow, _ = sensor.Recall(r.Settings.Camera, lights.Camera, setting, "glow_e")
	return &e
}

// apart is the time between darks and subs; none when either is not dated.
func apart(dark, lights *frames.Group) time.Duration {
	a, b := dark.Frames[0].Meta.Start, lights.Frames[0].Meta.Start
	if a.IsZero() || b.IsZero() {
		return 0
	}
	return a.Sub(b).Abs()
}

// seenIn gives what was made of a look at the subs and at what is known of darks
// beside, remembered or made now; nil when there is nothing to look at.
func seenIn[T any](known *memory, what string, g judgedGroup, then *worth.Then, see func() *worth.Seen) func(func(*worth.Seen) T) *T {
	return func(tell func(*worth.Seen) T) *T {
		key, keep := known.seenKey(what, g, then)
		var found T
		if keep && known.store.Get(key, &found) {
			return &found
		}
		s := see()
		if s == nil {
			return nil
		}
		found = tell(s)
		if keep {
			_ = known.store.Put(key, found) // a full disk costs the next run time, and this one nothing
		}
		return &found
	}
}

// seenKey stands for the subs looked at, what they were corrected with and how
// they lie; false when it is not known.
func (m *memory) seenKey(what string, g judgedGroup, then *worth.Then) (cache.Key, bool) {
	if m == nil {
		return cache.Key{}, false
	}
	c := g.calibration
	k := cache.NewKey(what).Add(c.ReadNoise, c.DarkRate, c.Gain, g.places(), then)
	for _, s := range g.looked() {
		f := s.Frame
		k.Add(m.applied[f], *f)
		if err := k.AddFile(f.Path); err != nil {
			return cache.Key{}, false
		}
	}
	return k.Key(), true
}

// looked are the subs that are looked at: some of those that will be stacked,
// spread over the night.
func (g judgedGroup) looked() []*Sub {
	var good []*Sub
	for _, s := range g.all {
		if s.Verdict.Usable() && s.Frame.Err == nil {
			good = append(good, s)
		}
	}
	if len(good) <= seenSubs {
		return good
	}
	some := make([]*Sub, seenSubs)
	for i := range some {
		some[i] = good[i*len(good)/seenSubs]
	}
	return some
}

// see reads the group's subs again, corrected so; nil when too few can be.
func (r *Result) see(ctx context.Context, g judgedGroup, with *calib.Calibration) *worth.Seen {
	size := g.lights.Frames[0].Image
	rows, block := seenRows(size.Width, size.Height)
	if len(rows) == 0 {
		return nil
	}
	s := worth.NewSeen(size.Width, size.Height, rows, block, g.lights.Frames[0].Meta.Bayer != "")
	var pixels []float32
	for _, sub := range g.looked() {
		if ctx.Err() != nil {
			return nil
		}
		looked := make([]float32, 0, len(rows)*size.Width)
		next := 0
		var err error
		pixels, err = sub.Frame.ReadPlane(0, pixels, func(first int, strip []float32, _ float32) {
			for y := first; next < len(rows) && y < first+len(strip)/size.Width; y++ {
				if y == rows[next] {
					row := strip[(y-first)*size.Width:][:size.Width]
					looked = append(looked, corrected(row, y*size.Width, size, with)...)
					next++
				}
			}
		})
		if err == nil && next == len(rows) {
			s.Add(looked, sub.place())
		}
	}
	return s
}

// place of a sub on the sky; nil when it is not known.
func (s *Sub) place() *worth.Place {
	if !s.Align.Matched() {
		return nil
	}
	p := worth.Place(s.Align.Transform)
	return &p
}

// corrected is a row of a sub in e-, left as it is in place.
func corrected(row []float32, first int, size frames.Layout, c *calib.Calibration) []float32 {
	out := append([]float32(nil), row...)
	c.Apply(out, first, size.Width*size.Height)
	gain := float32(c.Gain.V)
	for i := range out {
		out[i] *= gain
	}
	return out
}

// seenRows are the rows that are looked at: all of a small frame, else blocks
// from the lower to the upper edge, all as high.
func seenRows(width, height int) (rows []int, block int) {
	if width*height <= seenPixels {
		block = height - height%2
		for y := range block {
			rows = append(rows, y)
		}
		return rows, block
	}
	blocks := max(3, seenPixels/(width*seenBlock))
	for b := range blocks {
		first := int(math.Round(float64(b) * float64(height-seenBlock) / float64(blocks-1)))
		first -= first % 2 // the colours of a mosaic
		for y := range seenBlock {
			rows = append(rows, first+y)
		}
	}
	return rows, seenBlock
}
