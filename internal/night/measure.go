package night

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/measure"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// measureSubs fills Subs: every light frame, readable or not, corrected with
// the calibration that fits its group and measured.
func (r *Result) measureSubs(ctx context.Context, known *memory, progress func(done, total int)) error {
	r.listSubs()
	of := r.calibrations()
	var mu sync.Mutex
	done := 0
	// Not a sync.Pool: the collector empties those, and a new buffer costs as
	// much as a pass over the frame.
	workers := r.Settings.workersFor(r.Frames)
	pool := make(chan *buffers, workers)
	for range workers {
		pool <- new(buffers)
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(workers)
	for _, s := range r.Subs {
		s.applied = of[s.Frame]
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			if s.ReadErr == "" {
				b := <-pool
				known.measure(s, of[s.Frame], r.Settings.Stars, b)
				pool <- b
			}
			mu.Lock()
			defer mu.Unlock()
			done++
			progress(done, len(r.Subs))
			return nil
		})
	}
	return g.Wait()
}

// listSubs makes the subs of all stacks, unmeasured, in order.
func (r *Result) listSubs() {
	pictures := newAlbum()
	for i, stack := range r.Sorted.Stacks {
		for _, f := range stack {
			s := newSub(f)
			s.Stack, s.album = i, pictures
			r.Subs = append(r.Subs, s)
		}
	}
	slices.SortStableFunc(r.Subs, inOrder)
}

// calibrations are what is taken off each light, one for all of a group.
func (r *Result) calibrations() map[*frames.Frame]*calib.Calibration {
	of := map[*frames.Frame]*calib.Calibration{}
	for _, g := range r.Sorted.Groups {
		if g.Kind != frames.Light {
			continue
		}
		c := r.Calib.For(g)
		for _, f := range g.Frames {
			of[f] = &c
		}
	}
	return of
}

// newSub takes over what the header tells.
func newSub(f *frames.Frame) *Sub {
	m := f.Meta
	s := &subs.Sub{
		File: f.Name, Target: m.Target, Filter: m.Filter, Camera: m.Camera,
		Start: m.Start, Exposure: m.Exposure, GainSetting: m.GainSetting, OffsetSetting: m.OffsetSetting,
		SensorTemp: m.SensorTemp, SetTemp: m.SetTemp, Binning: m.BinX,
		Width: f.Image.Width, Height: f.Image.Height, PierSide: m.PierSide,
		FocusPosition: m.FocusPosition, AmbientTemp: m.AmbientTemp,
		PixelScale: m.PixelScale(), ElectronsPerADU: math.NaN(),
	}
	setUnmeasured(s, "not measured")
	sub := &Sub{Sub: s, Frame: f}
	if f.Err != nil {
		sub.fail(f.Err)
	}
	return sub
}

// buffers are what one worker reuses from sub to sub.
type buffers struct {
	pixels    []float32
	saturated []int // indices of pixels that were saturated in the raw frame
	grid      grid
	stars     measure.Measurer
}

// findSaturated notes the raw pixels at or above a level among those from index first on.
func (b *buffers) findSaturated(pixels []float32, first int, level float64) {
	limit := float32(level)
	for piece := range slices.Chunk(pixels, 1<<12) {
		if top, _ := stats.TopOfRow(piece); top >= limit { // of few
			for i, v := range piece {
				if v >= limit {
					b.saturated = append(b.saturated, first+i)
				}
			}
		}
		first += len(piece)
	}
}

// emptied is the share of the raw saturation level under which a saturated pixel is once
// it is corrected if the dark is nearly full there, too: offsets and flats take less.
const emptied = 0.5

// markSaturated sets all saturated pixels to one level, which it returns. A
// flat spreads the raw frame's one saturation level over many; stars are told
// apart by one again. Hot pixels that the dark fills as well are no light: what is
// left of them is about 0, and no level at which stars saturate.
func (b *buffers) markSaturated(raw float64) float64 {
	b.saturated = slices.DeleteFunc(b.saturated, func(i int) bool { return b.pixels[i] < float32(emptied*raw) })
	if len(b.saturated) == 0 {
		return math.Inf(1)
	}
	top := float32(math.Inf(-1))
	for _, i := range b.saturated {
		if b.pixels[i] > top { // false for NaN, where the flat has no light
			top = b.pixels[i]
		}
	}
	if !(top > 0) {
		return math.Inf(1)
	}
	for _, i := range b.saturated {
		b.pixels[i] = top
	}
	return float64(top)
}

// full tells that most pixels are saturated: the level is no measure of the sky then.
func (b *buffers) full() bool { return 2*len(b.saturated) > len(b.pixels) }

// measure reads, corrects and measures one sub. A sub that fails keeps its row
// with the reason.
func (s *Sub) measure(c *calib.Calibration, opt stars.Options, b *buffers) {
	if err := s.tryMeasure(c, opt, b); err != nil {
		s.fail(err)
	}
}

func (s *Sub) tryMeasure(c *calib.Calibration, opt stars.Options, b *buffers) (err error) {
	defer frames.CatchPanic(&err)
	preview, opt, err := s.load(c, opt, b)
	if err != nil {
		return err
	}
	field, err := b.stars.Measure(b.pixels, s.Frame.Image.Width, s.Frame.Image.Height, opt)
	if err != nil {
		return err
	}
	cutStars(preview, field, b.pixels)
	field.Full = b.full()
	s.take(field, c)
	s.SetPreview(preview)
	return nil
}

// load fills the worker's pixels with the sub's, corrected, and the options with what is
// known of them.
func (s *Sub) load(c *calib.Calibration, opt stars.Options, b *buffers) (preview *frames.Preview, _ stars.Options, err error) {
	err = frames.Again(func() (err error) {
		preview, err = s.read(c, b)
		return err
	})
	opt.Gain, opt.Saturation, opt.Hot = c.Gain.V, b.markSaturated(c.Saturation), c.Hot
	opt.Bayer, opt.Step, opt.Smeared = s.Frame.Meta.Bayer != "", b.grid.step(), s.Frame.Resampled
	return preview, opt, err
}

// read fills the worker's pixels with the sub's, corrected, and makes them small.
func (s *Sub) read(c *calib.Calibration, b *buffers) (*frames.Preview, error) {
	im := s.Frame.Image
	plane := 0
	if im.Planes == 3 {
		plane = 1 // green: the most light, and between the others in focus
	}
	small := frames.NewShrinker(im.Width, im.Height, frames.PreviewWidth, s.Frame.Meta.Bayer != "")
	b.saturated = b.saturated[:0]
	b.grid.reset(im.Height)
	var err error
	b.pixels, err = s.Frame.ReadPlane(plane, b.pixels, func(row int, strip []float32, top float32) {
		first := row * im.Width
		if top >= float32(c.Saturation) { // of few
			b.findSaturated(strip, first, c.Saturation)
		}
		b.grid.add(strip, row, im.Width)
		c.Apply(strip, first, im.Width*im.Height)
		small.Add(strip)
	})
	return small.Preview, err
}

// take fills in what was measured, and what follows from it.
func (s *Sub) take(field *stars.Field, c *calib.Calibration) {
	s.Field = field
	s.Calibrated = c.HasOffset
	s.ElectronsPerADU = c.Gain.V
	s.SkyADU, s.NoiseADU, s.RandomNoise = field.Sky, field.Noise, field.RandomNoise
	s.SkyRate, s.DarkRate = skyRate(field.Sky, c, s.Exposure, s.SensorTemp), c.DarkRate
	if field.Full {
		s.SkyRate = stats.Missing(SkyFillsRange)
	}
}

// fail marks a sub as unreadable, by its header or later.
func (s *Sub) fail(err error) {
	s.Frame.Err = err
	s.ReadErr = err.Error()
	_, s.TruncatedFile = errors.AsType[*frames.TruncatedError](err)
	s.Unread = frames.SaysNothing(err)
	setUnmeasured(s.Sub, FileUnread)
}

// setUnmeasured marks every figure of a sub as missing for one reason.
func setUnmeasured(s *subs.Sub, why fact.Code) {
	missing := stats.Missing(why)
	s.SkyADU, s.SkyRate, s.NoiseADU, s.RandomNoise, s.Weight, s.WeightDetail = missing, missing, missing, missing, missing, missing
	s.Align.ShiftX, s.Align.ShiftY, s.Align.RotationDeg = missing, missing, missing
	s.Transparency.Ratio, s.Transparency.Unevenness, s.Transparency.Covered, s.Transparency.Depth = missing, missing, missing, missing
}

// skyRate is the sky's light per pixel and second in electrons, without the dark current
// that is left in the sub, as far as that is known.
func skyRate(sky stats.Value, c *calib.Calibration, exposure, sensorTemp float64) stats.Value {
	switch {
	case !sky.OK():
		return stats.Because(sky.Why)
	case !c.HasOffset:
		return stats.Because(c.NoOffset())
	case !c.Gain.OK():
		return stats.Missing(GainUnknown, fact.Reason(c.Gain.Why))
	case !(exposure > 0):
		return stats.Missing(ExposureUnknown)
	}
	if below := -sky.V * c.Gain.V; below > max(c.ReadNoise.V, 5*c.Gain.V*sky.KnownErr()) && c.ReadNoise.OK() {
		return stats.Missing(SkyBelowOffset, fact.Number("below_adu", -sky.V))
	}
	rate := sky.Scaled(c.Gain.V / exposure)
	if d := c.DarkLeft(sensorTemp); d.OK() {
		rate.V, rate.Err = rate.V-d.V, math.Hypot(rate.Err, d.Err)
	}
	return rate
}

// key of one sub; false when its file cannot be read.
func (m *memory) key(f *frames.Frame, opt stars.Options) (cache.Key, bool) {
	k := cache.NewKey("sub with its stars, full or not").Add(m.applied[f], opt, *f)
	err := k.AddFile(f.Path)
	return k.Key(), err == nil
}

// Key stands for what is measured of a sub, with the stars that ties took off or added;
// false when that is not remembered.
func (s *Sub) Key() (cache.Key, bool) {
	return cache.NewKey("stars of a sub").Add(s.key, s.fixed, s.moving).Key(), s.key != cache.Key{}
}

// measure recalls what was measured of a sub, or measures it and remembers.
func (m *memory) measure(s *Sub, c *calib.Calibration, opt stars.Options, b *buffers) {
	if m == nil {
		s.measure(c, opt, b)
		return
	}
	key, ok := m.key(s.Frame, opt)
	var known packedMeasurement
	if ok && m.store.Get(key, &known) {
		if field, sound := known.field(); sound {
			s.take(field, c)
			s.picture, s.key = s.album.keep(known.Picture), key
			return
		}
	}
	s.measure(c, opt, b)
	if s.Field == nil {
		return
	}
	if again, still := m.key(s.Frame, opt); ok && still && again == key { // else the file changed while it was read
		s.key = key
		// A full disk costs the next run time, and this one nothing.
		_ = m.store.Put(key, packMeasurement(s.Field, s.picture.packed()))
	}
}
