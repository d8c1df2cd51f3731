package night

import (
	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
)

// measurement is what is remembered of a sub.
type measurement struct {
	Field   *stars.Field
	Preview *frames.Preview
}

// memory remembers measurements of subs from run to run. A nil memory does not.
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
	var known measurement
	if ok && m.store.Get(key, &known) {
		s.take(known, c)
		return
	}
	s.measure(c, opt, b)
	if ok && s.Field != nil {
		// A full disk costs the next run time, and this one nothing.
		_ = m.store.Put(key, measurement{s.Field, s.Preview})
	}
}
