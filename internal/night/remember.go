package night

import (
	"context"
	"math"
	"sync"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
)

// memory remembers measurements from run to run. A nil memory does not.
type memory struct {
	store   *cache.Store
	setting cache.Key // of all that every sub's measurement depends on beside its own file
}

// newMemory ties the cache to the calibration frames and the settings: another
// dark or another limit for stars means other figures for every sub.
func newMemory(store *cache.Store, all []*frames.Frame, s Settings) *memory {
	if store == nil {
		return nil
	}
	k := cache.NewKey("calibration of subs")
	k.Add(s.Calib.TempTolC, s.Calib.ExposureTol, s.Calib.HotSigma, s.Stars.Threshold, s.Stars.MaxFits)
	for _, f := range all {
		if f.Err != nil || isSub(f) {
			continue
		}
		if err := k.AddFile(f.Path); err != nil {
			return nil // a calibration frame that vanishes: measure, remember nothing
		}
	}
	return &memory{store, k.Key()}
}

// analyse recalls what the calibration frames tell, or measures them and
// remembers.
func (m *memory) analyse(ctx context.Context, all []*frames.Frame, opt calib.Options) (*calib.Result, error) {
	if m == nil {
		return calib.Analyse(ctx, all, opt)
	}
	key := m.groupsKey(all)
	var known calib.Snapshot
	if !opt.Maps && m.store.Get(key, &known) {
		masters := sync.OnceValue(func() *calib.Result {
			r, _ := calib.Analyse(ctx, all, opt) // only ctx is an error, and it ends the run
			return r
		})
		if r, ok := calib.Restore(known, all, func(g *frames.Group) calib.Pixels { return m.pixels(key, g, masters) }); ok {
			return r, nil
		}
	}
	r, err := calib.Analyse(ctx, all, opt)
	if err != nil {
		return nil, err
	}
	if s, ok := r.Snapshot(all); ok {
		_ = m.store.Put(key, s) // a full disk costs the next run time, and this one nothing
		for _, c := range r.Coverage {
			cal := r.For(c.Lights)
			_ = m.store.Put(pixelsKey(key, c.Lights), packPixels(calib.Pixels{Subtract: cal.Subtract, Flat: cal.Flat}))
		}
	}
	return r, nil
}

// groupsKey stands for the calibration frames, the settings, and what the subs
// ask of them: settings and temperature of each group, not how many they are.
func (m *memory) groupsKey(all []*frames.Frame) cache.Key {
	k := cache.NewKey("calibration").Add(m.setting)
	for _, g := range frames.Groups(all) {
		k.Add(g.Label())
		if g.Kind == frames.Light {
			// A tenth of a degree changes a dark current by one percent.
			k.Add(math.Round(10*calib.TemperatureOf(g)), g.Rotation().String())
		}
	}
	return k.Key()
}

func pixelsKey(key cache.Key, lights *frames.Group) cache.Key {
	return cache.NewKey("masters").Add(key, lights.Label()).Key()
}

// pixels are a group's masters, kept or built again.
func (m *memory) pixels(key cache.Key, lights *frames.Group, masters func() *calib.Result) calib.Pixels {
	var packed packedPixels
	if m.store.Get(pixelsKey(key, lights), &packed) {
		if px, ok := packed.unpack(); ok {
			return px
		}
	}
	r := masters()
	if r == nil {
		return calib.Pixels{}
	}
	c := r.For(lights)
	return calib.Pixels{Subtract: c.Subtract, Flat: c.Flat}
}

// key of one sub; false when its file cannot be read.
func (m *memory) key(f *frames.Frame) (cache.Key, bool) {
	k := cache.NewKey("sub").Add(m.setting)
	err := k.AddFile(f.Path)
	return k.Key(), err == nil
}

// measure recalls what was measured of a sub, or measures it and remembers.
func (m *memory) measure(s *Sub, c *calib.Calibration, opt stars.Options, b *scratch) {
	if m == nil {
		s.measure(c, opt, b)
		return
	}
	key, ok := m.key(s.Frame)
	var known packedMeasurement
	if ok && m.store.Get(key, &known) {
		if field, preview, sound := known.unpack(); sound {
			s.take(measurement{field, preview}, c)
			s.key = key
			return
		}
	}
	s.measure(c, opt, b)
	if ok && s.Field != nil {
		s.key = key
		// A full disk costs the next run time, and this one nothing.
		_ = m.store.Put(key, packMeasurement(measurement{s.Field, s.Preview}))
	}
}

// tie recalls how subs of one target are tied together, or finds it out and
// remembers.
func (m *memory) tie(same []*Sub) {
	key, ok := m.tieKey(same)
	if !ok {
		tie(same)
		return
	}
	var known packedTies
	if m.store.Get(key, &known) && known.unpack(same) {
		return
	}
	tie(same)
	_ = m.store.Put(key, packTies(same)) // as above
}

// tieKey stands for the measured fields in their order, and what their light
// is scaled by; false when one of them is not remembered itself.
func (m *memory) tieKey(same []*Sub) (cache.Key, bool) {
	if m == nil {
		return cache.Key{}, false
	}
	k := cache.NewKey("ties")
	for _, s := range same {
		if s.key == (cache.Key{}) {
			return cache.Key{}, false
		}
		k.Add(s.key, s.Filter, s.Exposure, s.ElectronsPerADU)
	}
	return k.Key(), true
}
