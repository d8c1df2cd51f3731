package night

import (
	"context"
	"math"
	"slices"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Follow measures a night sub by sub while it is shot. What a sub costs does not
// grow with the night: it is tied to a few subs of its field with the most stars,
// and judged among the recent ones. Run gives the final word on all of them, from
// the same measurements where both have one cache.
type Follow struct {
	roots       []string
	settings    Settings
	scan        frames.ScanOptions
	known       *memory
	calibration []*frames.Frame // as read, each by itself
	fitting     []fitting       // calibrations of late, the latest last
	recent      []*followed     // in time order
	anchors     map[seenThrough][]*anchor
	buffers     buffers
}

// RecentSubs is among how many a sub is judged at most.
const RecentSubs = 100

const (
	recentHours = 14 * time.Hour // of one night
	anchorSubs  = 4              // a sub's light is compared with so many
	clockSubs   = 12             // by which clocks are read
	mostFields  = 12             // fields and filters that are remembered
)

// fitting is what the subs of one kind are corrected with.
type fitting struct {
	key         cache.Key // of the settings of the subs
	temperature float64   // °C, of the sensor
	calibration calib.Calibration
	applied     cache.Key
}

// followed is a sub that was measured: what judging needs, without stars and pixels.
type followed struct {
	frame    *frames.Frame // as read, by itself
	measured subs.Sub
	light    photometry.Transparency // on the scale of the anchors
	skyShare float64
}

// seenThrough tells subs whose light can be compared.
type seenThrough struct {
	target, filter, camera names.Key
	width, height          int
}

// anchor is a sub that others of its field are compared with.
type anchor struct {
	sub   *Sub // with its stars
	light float64
}

// Seen is a sub as it is judged among the recent ones.
type Seen struct {
	*subs.Sub
	Path     string
	Number   int // of the sub among the recent ones of its target and filter, from 1
	Baseline subs.Baseline
	SkyShare float64 // of the camera's range that the sky fills; NaN when not known
}

// Moment is the night as far as it has come.
type Moment struct {
	Seen        []Seen // the recent subs in time order
	FocusDrifts []subs.FocusDrift
	Local       LocalTime
	Site        *sky.Site // nil when nothing tells it
}

// NewFollow follows what is below roots.
func NewFollow(roots []string, s Settings) (*Follow, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	scan := s.Frames
	scan.Memory, scan.Workers = s.roomForFrames(), s.Workers
	return &Follow{roots: roots, settings: s, scan: scan, known: newMemory(s.Cache), anchors: map[seenThrough][]*anchor{}}, nil
}

// Read reads the headers of some files below the folders and takes in the
// calibration frames among them. It returns the subs, readable or not, in time
// order, which are to be measured one by one.
func (f *Follow) Read(ctx context.Context, paths []string) ([]*frames.Frame, error) {
	asked := map[string]bool{}
	for _, p := range paths {
		asked[p] = true
	}
	all, err := frames.List(ctx, f.roots, f.scan)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(fr *frames.Frame) bool { return !asked[fr.Path] })
	if err := frames.ReadHeaders(ctx, all, f.scan); err != nil {
		return nil, err
	}
	var lights []*frames.Frame
	for _, fr := range all {
		f.Forget(fr.Path)
		switch {
		case fr.IsSub():
			lights = append(lights, fr)
		case fr.Err == nil && (fr.Kind == frames.Bias || fr.Kind == frames.Dark || fr.Kind == frames.Flat):
			f.calibration, f.fitting = append(f.calibration, fr), nil
		}
	}
	slices.SortStableFunc(lights, func(a, b *frames.Frame) int { return a.Meta.Start.Compare(b.Meta.Start) })
	return lights, nil
}

// Forget drops a file that is gone, or is about to be read again.
func (f *Follow) Forget(path string) {
	f.recent = slices.DeleteFunc(f.recent, func(s *followed) bool { return s.frame.Path == path })
	n := len(f.calibration)
	f.calibration = slices.DeleteFunc(f.calibration, func(c *frames.Frame) bool { return c.Path == path })
	if len(f.calibration) < n {
		f.fitting = nil
	}
}

// Measure measures one sub that Read gave, and takes it among the recent ones.
// Only ctx is an error.
func (f *Follow) Measure(ctx context.Context, light *frames.Frame) error {
	settled := f.settled(light)
	fr := settled[len(settled)-1]
	s := newSub(fr)
	taken := &followed{frame: light, light: noLight("not measured"), skyShare: math.NaN()}
	if fr.Err == nil {
		fit, err := f.calibrate(ctx, settled)
		if err != nil {
			return err
		}
		f.measure(s, fit)
		taken.light = f.compare(s)
		taken.skyShare = s.SkyADU.V / fit.calibration.Saturation
	}
	taken.measured = *s.Sub
	if s.Field != nil {
		slim := *s.Field // noise and sky by parts tell what stands before the telescope
		slim.Stars, slim.Streaks, slim.ScatterParts, slim.Map = nil, nil, nil, stars.Map{}
		taken.measured.Field, taken.measured.Align.Pairs = &slim, nil
	}
	f.recent = append(f.recent, taken)
	slices.SortStableFunc(f.recent, func(a, b *followed) int { return a.measured.Start.Compare(b.measured.Start) })
	f.forgetOld()
	return nil
}

// settled are calibration frames, recent subs and, last, a new one, as they would
// be read together.
func (f *Follow) settled(light *frames.Frame) []*frames.Frame {
	var all []*frames.Frame
	for _, c := range f.calibration {
		all = append(all, c.Clone())
	}
	for _, s := range f.recent {
		all = append(all, s.frame.Clone())
	}
	if light != nil {
		all = append(all, light.Clone())
	}
	frames.Settle(all)
	return all
}

// forgetOld keeps one night, and no more than its recent subs.
func (f *Follow) forgetOld() {
	last := f.recent[len(f.recent)-1].measured.Start
	f.recent = slices.DeleteFunc(f.recent, func(s *followed) bool {
		return !s.measured.Start.IsZero() && last.Sub(s.measured.Start) > recentHours
	})
	if extra := len(f.recent) - RecentSubs; extra > 0 {
		f.recent = slices.Clone(f.recent[extra:])
	}
}

// calibrate finds what fits the last of the settled frames: as kept, as
// remembered, or measured.
func (f *Follow) calibrate(ctx context.Context, settled []*frames.Frame) (*fitting, error) {
	fr := settled[len(settled)-1]
	sorted := frames.Sort(append(slices.Clone(settled[:len(f.calibration)]), fr))
	g := sorted.Groups[slices.IndexFunc(sorted.Groups, func(g *frames.Group) bool { return g.Kind == frames.Light })]
	asked := *g
	asked.Frames = nil
	key := cache.NewKey("fitting").Add(asked, g.Label(), g.Rotation(), settings(g)).Key()
	temperature := sensor.TemperatureOf(g)
	for i := range f.fitting {
		// A cooled sensor swings by tenths of a degree, an uncooled one drifts.
		if k := &f.fitting[i]; k.key == key && !(math.Abs(k.temperature-temperature) > f.settings.Calib.TempTolC/2) {
			return k, nil
		}
	}
	opt := f.settings.Calib
	opt.Remembered, opt.Maps = f.settings.Camera, false
	f.settings.share(sorted, &opt)
	r, err := f.known.analyse(ctx, sorted, opt)
	if err != nil {
		return nil, err
	}
	fit := fitting{key: key, temperature: temperature, calibration: r.For(g)}
	if f.known != nil {
		fit.applied = f.known.applied[fr]
	}
	if most := f.mostFittings(fr); len(f.fitting) >= most {
		f.fitting = slices.Clone(f.fitting[len(f.fitting)-most+1:])
	}
	f.fitting = append(f.fitting, fit)
	return &f.fitting[len(f.fitting)-1], nil
}

// mostFittings is how many pairs of masters take a quarter of the memory allowed;
// one at least.
func (f *Follow) mostFittings(fr *frames.Frame) int {
	pair := mastersWanted * bytesPerMaster * int64(fr.Image.Pixels())
	return int(max(1, min(mostFields, int64(f.settings.MemoryMiB)<<18/max(1, pair))))
}

// measure recalls or measures one sub.
func (f *Follow) measure(s *Sub, fit *fitting) {
	if f.known != nil {
		f.known.applied[s.Frame] = fit.applied
		defer clear(f.known.applied)
	}
	f.known.measure(s, &fit.calibration, f.settings.Stars, &f.buffers)
	s.picture = nil
}

// compare ties a measured sub to the anchors of its field, and makes it one where
// it has more stars than those have.
func (f *Follow) compare(s *Sub) photometry.Transparency {
	if s.Field == nil {
		return noLight(SubUnmeasured)
	}
	of := seenThrough{s.Target.Key(), s.Filter.Key(), s.Camera.Key(), s.Width, s.Height}
	if f.anchors[of] == nil && len(f.anchors) >= mostFields {
		clear(f.anchors)
	}
	anchors := f.anchors[of]
	all := []*Sub{}
	for _, a := range anchors {
		all = append(all, a.sub)
	}
	all = append(all, s)
	al, _ := registration.Align(fields(all))
	scale := make([]float64, len(all))
	for i, o := range all {
		scale[i] = lightScale(o, all[0])
	}
	light := photometry.Transparencies(fields(all), al, scale)
	own := light[len(all)-1]
	s.Align = al[len(all)-1]
	var to []float64
	for i, a := range anchors {
		if light[i].Ratio.OK() {
			to = append(to, a.light/light[i].Ratio.V)
		}
	}
	if len(to) > 0 && own.Ratio.OK() {
		by := stats.Median(to)
		own.Ratio, own.Depth = own.Ratio.Scaled(by), own.Depth.Scaled(by*by)
		for k := range own.Map {
			own.Map[k] *= by
		}
	}
	f.anchor(of, s, own.Ratio.V)
	return own
}

// anchor takes a sub among those with the most stars. The first of a field has the
// light 1.
func (f *Follow) anchor(of seenThrough, s *Sub, light float64) {
	list := f.anchors[of]
	if len(list) == 0 {
		light = 1
	}
	if !(light > 0) || s.Field.Count == 0 {
		return
	}
	list = append(list, &anchor{s, light})
	slices.SortStableFunc(list, func(a, b *anchor) int { return b.sub.Field.Count - a.sub.Field.Count })
	f.anchors[of] = list[:min(len(list), anchorSubs)]
}

func noLight(why fact.Code) photometry.Transparency {
	missing := stats.Missing(why)
	return photometry.Transparency{Ratio: missing, Unevenness: missing, Covered: missing, Depth: missing}
}

// Judge judges the recent subs anew, as they are known now.
func (f *Follow) Judge() *Moment {
	settled := f.settled(nil)
	r := &Result{Settings: f.settings, Frames: settled, Sorted: frames.Sort(settled)}
	stack := map[*frames.Frame]int{}
	for i, list := range r.Sorted.Stacks {
		for _, fr := range list {
			stack[fr] = i
		}
	}
	of := map[*subs.Sub]*followed{}
	for i, was := range f.recent {
		s := newSub(settled[len(f.calibration)+i])
		s.Stack = stack[s.Frame]
		s.measuredAs(was)
		of[s.Sub] = was
		r.Subs = append(r.Subs, s)
	}
	for _, same := range partition(measured(r.Subs), func(s *Sub) seenThrough {
		return seenThrough{s.Target.Key(), s.Filter.Key(), s.Camera.Key(), s.Width, s.Height}
	}) {
		light := make([]photometry.Transparency, len(same))
		for i, s := range same {
			light[i] = s.Transparency
			light[i].Map = slices.Clone(light[i].Map) // to be made normal anew each time
		}
		photometry.Normalise(light, fields(same))
		for i, s := range same {
			s.Transparency = light[i]
		}
	}
	r.addConditions(r.Subs[max(0, len(r.Subs)-clockSubs):])
	verdicts := subs.Judge(r.judged(), f.settings.Limits)
	m := &Moment{FocusDrifts: verdicts.FocusDrifts, Local: r.localTime(), Site: r.NightSite()}
	baseline := map[string]subs.Baseline{}
	for _, g := range verdicts.Groups {
		baseline[g.Label] = g.Baseline
	}
	number := map[[2]names.Name]int{}
	for _, s := range r.Subs {
		k := [2]names.Name{s.Target, s.Filter}
		number[k]++
		m.Seen = append(m.Seen, Seen{Sub: s.Sub, Path: of[s.Sub].frame.Path, Number: number[k], Baseline: baseline[s.Group], SkyShare: of[s.Sub].skyShare})
	}
	return m
}

// measuredAs takes over what was measured.
func (s *Sub) measuredAs(was *followed) {
	m := &was.measured
	s.ReadErr, s.TruncatedFile, s.Unread = m.ReadErr, m.TruncatedFile, m.Unread
	s.Field, s.Align, s.Calibrated, s.ElectronsPerADU = m.Field, m.Align, m.Calibrated, m.ElectronsPerADU
	s.SkyADU, s.SkyRate, s.NoiseADU, s.RandomNoise = m.SkyADU, m.SkyRate, m.NoiseADU, m.RandomNoise
	s.Transparency = was.light
}
