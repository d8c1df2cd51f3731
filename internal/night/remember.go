package night

import (
	"context"
	"sync"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// memory remembers measurements from run to run. A nil memory does not.
type memory struct {
	store   *cache.Store
	applied map[*frames.Frame]cache.Key // what the figures of a sub depend on beside its file: the calibration that it gets

	recalling sync.Mutex
	masters   map[cache.Key]*stack.Plane // those recalled
}

func newMemory(store *cache.Store) *memory {
	if store == nil {
		return nil
	}
	return &memory{store: store, applied: map[*frames.Frame]cache.Key{}, masters: map[cache.Key]*stack.Plane{}}
}

// known is what is remembered of the calibration frames. The masters lie under
// keys of their own, made of their pixels: groups of subs share them.
type known struct {
	Snapshot calib.Snapshot
	Applied  []appliedKeys // one a group of subs, in the order of Coverage
}

// appliedKeys stand for the pixels that subs are corrected with, and for all
// that is applied to them.
type appliedKeys struct{ Subtract, Flat, All cache.Key }

// analyse recalls what the calibration frames tell, or measures them and
// remembers.
func (m *memory) analyse(ctx context.Context, scan *frames.Sorted, opt calib.Options) (*calib.Result, error) {
	if m == nil {
		return calib.Analyse(ctx, scan, opt)
	}
	key, ok := calibrationKey(scan, opt)
	if ok && !opt.Maps && !opt.Masters {
		if r := m.recall(ctx, key, scan, opt); r != nil {
			return r, nil
		}
	}
	r, err := calib.Analyse(ctx, scan, opt)
	if err != nil {
		return nil, err
	}
	applied := m.apply(r)
	s, whole := r.Snapshot(scan)
	if again, still := calibrationKey(scan, opt); whole && ok && still && again == key { // else a file changed while it was read
		m.keepPixels(r, applied)
		_ = m.store.Put(key, known{s, applied}) // a full disk costs the next run time, and this one nothing
	}
	return r, nil
}

// recall restores what is remembered under a key; nil when nothing sound is.
func (m *memory) recall(ctx context.Context, key cache.Key, scan *frames.Sorted, opt calib.Options) *calib.Result {
	var k known
	if !m.store.Get(key, &k) || len(k.Applied) != len(k.Snapshot.Lights) {
		return nil
	}
	again := sync.OnceValue(func() *calib.Result {
		r, _ := calib.Analyse(ctx, scan, opt) // only ctx is an error, and it ends the run
		return r
	})
	at := map[*frames.Group]appliedKeys{}
	r, ok := calib.Restore(k.Snapshot, scan.Groups, func(g *frames.Group) calib.Planes {
		return m.planes(at[g], g, opt.Room, again)
	})
	if !ok {
		return nil
	}
	for i, c := range r.Coverage {
		at[c.Lights] = k.Applied[i]
		m.note(c.Lights, k.Applied[i])
	}
	return r
}

// calibrationKey stands for the calibration frames, the options, and what the
// subs ask of them; false when a file has vanished.
func calibrationKey(scan *frames.Sorted, opt calib.Options) (cache.Key, bool) {
	opt.Workers, opt.Room, opt.Memory = 0, nil, 0 // they change no figure
	k := cache.NewKey("calibration").Add(opt)
	for _, f := range scan.Frames {
		if f.Err != nil || f.IsSub() {
			continue
		}
		k.Add(*f)
		if err := k.AddFile(f.Path); err != nil {
			return cache.Key{}, false
		}
	}
	for _, g := range scan.Groups {
		asked := *g
		asked.Frames = nil
		k.Add(asked, g.Label())
		if g.Kind == frames.Light {
			k.Add(sensor.TemperatureOf(g), g.Rotation(), settings(g))
		}
	}
	return k.Key(), true
}

// settings are those of a group's frames: one when all share them, so that one
// sub more of the same changes nothing, else those of every frame. Left out is
// what differs from exposure to exposure and no calibration asks for.
func settings(g *frames.Group) []frames.Meta {
	var of []cache.Key
	var metas []frames.Meta
	alike := true
	for _, f := range g.Frames {
		m := f.Meta
		m.Start = time.Time{}
		m.RA, m.Dec, m.Airmass, m.FocusPosition, m.AmbientTemp, m.SensorTemp = 0, 0, 0, 0, 0, 0
		metas, of = append(metas, m), append(of, cache.NewKey("meta").Add(m).Key())
		alike = alike && of[0] == of[len(of)-1]
	}
	if alike {
		return metas[:1]
	}
	return metas
}

// apply notes what every sub is corrected with.
func (m *memory) apply(r *calib.Result) []appliedKeys {
	seen := map[*stack.Plane]cache.Key{nil: {}} // groups share masters
	pixels := func(p *stack.Plane) cache.Key {
		if _, ok := seen[p]; !ok {
			seen[p] = cache.NewKey("master").AddPixels(p.Pixels()).Key()
		}
		return seen[p]
	}
	var all []appliedKeys
	for _, c := range r.Coverage {
		cal := r.For(c.Lights)
		a := appliedKeys{Subtract: pixels(cal.Planes().Subtract), Flat: pixels(cal.Planes().Flat)}
		// What is said of a calibration and not applied does not count.
		cal = cal.Figures()
		cal.ReadNoise, cal.DarkRate, cal.Warmth = stats.Value{}, stats.Value{}, calib.Warmth{}
		cal.Overscan = false
		cal.Gain = stats.Value{V: cal.Gain.V} // measuring asks for no more, and of a header's gain N grows with every sub
		a.All = cache.NewKey("applied").Add(a, cal).Key()
		m.note(c.Lights, a)
		all = append(all, a)
	}
	return all
}

func (m *memory) note(lights *frames.Group, a appliedKeys) {
	for _, f := range lights.Frames {
		m.applied[f] = a.All
	}
}

// keepPixels remembers the masters.
func (m *memory) keepPixels(r *calib.Result, applied []appliedKeys) {
	for i, c := range r.Coverage {
		cal := r.For(c.Lights)
		for key, p := range map[cache.Key]*stack.Plane{applied[i].Subtract: cal.Planes().Subtract, applied[i].Flat: cal.Planes().Flat} {
			if p.Len() > 0 && !m.store.Has(key) {
				_ = m.store.Put(key, packedPixels{pack(p.Pixels())}) // a full disk costs the next run time, and this one nothing
			}
		}
	}
}

// planes are a group's masters, kept or built again.
func (m *memory) planes(a appliedKeys, lights *frames.Group, room *stack.Room, again func() *calib.Result) calib.Planes {
	subtract, ok := m.master(a.Subtract, room)
	flat, ok2 := m.master(a.Flat, room)
	if ok && ok2 {
		return calib.Planes{Subtract: subtract, Flat: flat}
	}
	r := again()
	if r == nil {
		return calib.Planes{}
	}
	c := r.For(lights)
	return c.Planes()
}

// master recalls the pixels of one master; none for no key.
func (m *memory) master(key cache.Key, room *stack.Room) (p *stack.Plane, ok bool) {
	m.recalling.Lock()
	defer m.recalling.Unlock()
	if key == (cache.Key{}) || m.masters[key] != nil {
		return m.masters[key], true
	}
	var packed packedPixels
	var px []float32
	if ok = m.store.Get(key, &packed) && unpack(packed.pixels, &px); ok {
		m.masters[key] = room.Add(px)
	}
	return m.masters[key], ok
}
