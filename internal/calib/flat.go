package calib

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// flatScale is the level that every flat is brought to before the flats of a
// set are combined: the shot noise of any real flat spans many steps of it.
const flatScale = 20000

// flatRun is a flat set on its way. Its stack holds the frames with the offset
// taken off and scaled to one level.
type flatRun struct {
	*run
	group *frames.Group
	why   string

	offset     float64          // ADU
	offsetFrom string           // in words; "" when there was nothing to take off
	readVar    float64          // ADU², of one frame without light
	raw        *stats.Histogram // samples of all frames, in rawUnit
	rawUnit    scale
	points     []TransferPoint
	shots      []flatShot // every flat that was read, brightest exposures first
	prnu       stats.Value
	flicker    stats.Value
	snr        stats.Value
	corner     stats.Value
	shadowN    stats.Value
	detail     *FlatDetail
}

// flatShot is the level of one flat.
type flatShot struct {
	frame *frames.Frame
	level float64 // ADU, offset included
	light float64 // ADU, above the offset
}

func (f *flatRun) ok() bool { return f.why == "" && f.run.ok() }

// measure streams the set twice at most: once for levels, pairs and the master.
func (f *flatRun) measure(a *analysis) {
	f.detail = &FlatDetail{}
	m, err := f.stackFlats(a, true)
	switch {
	case err != nil:
		f.why = err.Error()
		return
	case len(f.frames) == 0 && f.why == "":
		f.why = "no frame of the set can be read"
		return
	case f.why != "":
		return
	}
	a.masters.put(f.group, m)
	width := f.group.Width
	for _, s := range f.shots {
		f.detail.Frames = append(f.detail.Frames, FrameLevel{Name: s.frame.Name, Start: s.frame.Meta.Start, TempC: s.frame.Meta.SensorTemp, Level: s.light})
	}
	f.detail.Points = f.points
	f.detail.Master = preview(m.pixels, f.group)
	f.measureIllumination(m.pixels, a.opt.Workers)
	f.measurePRNU(m.pixels, a.opt.Workers)
	f.measureShadows(m.pixels, a.opt.Workers)
	f.measureFlicker()
	f.nameBanded()
	f.snr = f.masterSNR()
	f.detail.Planes = planeLevels(f.frames[0].Meta, m.pixels, width)
	f.stack, f.pixels = nil, nil
}

// base is what is taken off the flats: the master of darks of the flats' own
// exposure, else of the bias, else nothing.
func (f *flatRun) base(a *analysis) []float32 {
	for _, d := range a.darks {
		if sameReadout(d.group, f.group) && math.Abs(d.group.Exposure-f.group.Exposure) <= a.opt.ExposureTol*f.group.Exposure && tempGap(d.group, f.group) <= 5 && f.oneExposure(a) {
			if m := a.masterOf(d.group); m != nil {
				f.offset = clippedLevel(m.pixels)
				f.offsetFrom = "darks of the same exposure"
				if b := a.nearestBias(f.group); b != nil && b.noise.OK() {
					f.readVar = b.noise.V * b.noise.V
				}
				return m.pixels
			}
		}
	}
	b := a.nearestBias(f.group)
	if b == nil {
		return nil
	}
	f.offset, f.offsetFrom = b.offset.V, "bias"
	if b.noise.OK() {
		f.readVar = b.noise.V * b.noise.V
	}
	if m := a.masterOf(b.group); m != nil {
		return m.pixels
	}
	return nil
}

func (f *flatRun) oneExposure(a *analysis) bool {
	for _, fr := range f.group.Frames {
		if !(math.Abs(fr.Meta.Exposure-f.group.Exposure) <= a.opt.ExposureTol*f.group.Exposure) {
			return false
		}
	}
	return true
}

// pairRange is by how much two flats may differ in level to be compared, and
// faintest the share of the brightest flat's light that a flat needs to be
// combined with it.
const (
	pairRange = 1.25
	faintest  = 0.4
)

// inOrder is the flats by exposure, longest first, and in time order within
// one: neighbours can be compared, and the brightest come first.
func (f *flatRun) inOrder() []*frames.Frame {
	fs := slices.Clone(f.group.Frames)
	slices.SortStableFunc(fs, func(a, b *frames.Frame) int { return cmp.Compare(b.Meta.Exposure, a.Meta.Exposure) })
	return fs
}

// stackFlats streams the flats: levels, pairs (when asked) and the master.
func (f *flatRun) stackFlats(a *analysis, pairs bool) (*master, error) {
	r := &run{unit: scale{0, 1}}
	f.run = r
	base := f.base(a)
	width, height := f.group.Width, f.group.Height
	st := stats.NewStack(width, height)
	f.raw = stats.NewHistogram(0, math.MaxUint16)
	f.points, f.shots = nil, nil
	brightest := 0.0 // light of the brightest flat that is not saturated, ADU
	var scaledBefore []uint16
	var scaled [][]uint16
	names := planeNames(f.group.Frames[0].Meta)
	_, failed, err := a.series(a.ctx, f.inOrder(), func(unit scale, before *sample, batch []*sample) {
		f.rawUnit = unit
		var use [][]uint16
		for i, s := range batch {
			h := stats.HistogramOf(s.x)
			f.raw.Merge(h)
			middle := h.Quantile(0.5)
			shot := flatShot{s.frame, unit.Zero + unit.Step*middle, unit.Zero + unit.Step*middle - f.offset}
			last := before
			if i > 0 {
				last = batch[i-1]
			}
			if pairs && last != nil {
				if r := shot.light / f.shots[len(f.shots)-1].light; r < pairRange && r > 1/pairRange {
					f.comparePair(last, s, len(names) > 0, a.opt.Workers)
				}
			}
			f.shots = append(f.shots, shot)
			switch {
			case !(shot.light > 10):
				r.warnings = append(r.warnings, fmt.Sprintf("%s: no light above the offset; left out of the master", s.frame.Name))
				continue
			case middle > topSample || middle >= 0.97*pileUp(h):
				r.warnings = append(r.warnings, fmt.Sprintf("%s: saturated; left out of the master", s.frame.Name))
				continue
			case shot.light < faintest*brightest:
				continue // would bring more noise than light
			}
			brightest = max(brightest, shot.light)
			for len(scaled) <= len(use) {
				scaled = append(scaled, make([]uint16, width*height))
			}
			out := scaled[len(use)]
			toScale(out, s.x, unit, base, f.offset, flatScale/shot.light, a.opt.Workers)
			use = append(use, out)
			r.frames = append(r.frames, s.frame)
		}
		if len(use) == 0 {
			return
		}
		st.Add(scaledBefore, use, a.opt.Workers)
		// The last scaled frame is kept for the first pair of the next batch.
		end := len(use) - 1
		scaledBefore, scaled[end] = scaled[end], scaledBefore
		if scaled[end] == nil {
			scaled[end] = make([]uint16, width*height)
		}
	})
	for _, name := range failed {
		r.warnings = append(r.warnings, "left out, cannot be read: "+name)
	}
	if err != nil || st.Frames == 0 {
		if len(f.shots) > 0 {
			f.why = "every flat of the set is dark or saturated"
		}
		return nil, err
	}
	r.stack, r.step = st, float64(f.raw.Step())*f.rawUnit.Step
	r.noise = r.pairNoise()
	r.finish(a.opt.Workers)
	m := a.combine(r)
	normalise(m.pixels, width, len(names) > 0)
	return m, nil
}

// comparePair adds the transfer points of two adjacent flats.
func (f *flatRun) comparePair(x, y *sample, mosaic bool, workers int) {
	stride := 1
	if mosaic {
		stride = 2
	}
	for p := range stride * stride {
		u := f.rawUnit
		pair := measurePair(x.x, y.x, f.group.Width, stride, p%2, p/2, (f.offset-u.Zero)/u.Step, f.readVar/(u.Step*u.Step), topSample, workers)
		point := TransferPoint{Set: f.group.Label(), Signal: pair.signal * u.Step, Variance: pair.variance * u.Step * u.Step, Err: math.NaN(),
			Gain: pair.gain.Scaled(1 / u.Step), Exposure: y.frame.Meta.Exposure, Residual: math.NaN()}
		if f.offsetFrom == "" || f.readVar == 0 {
			point.Variance = math.NaN()
			if pair.gain.OK() {
				point.Gain = stats.Missing("no bias frames, or only one: the two-flat-two-bias method needs two")
			}
		}
		if point.Gain.OK() {
			point.Err = point.Variance * point.Gain.Err / point.Gain.V
		}
		f.points = append(f.points, point)
	}
}

// topSample is the sample above which a flat is surely cut by the file format.
const topSample = 0.995 * math.MaxUint16

// toScale writes (x - base) times factor, rounded, x in its unit and base in
// ADU; base nil: the scalar offset.
func toScale(out, x []uint16, unit scale, base []float32, offset, factor float64, workers int) {
	g, step := float32(factor), float32(unit.Step)
	parallelRanges(len(x), workers, func(_, from, to int) {
		off := float32(offset - unit.Zero)
		for i := from; i < to; i++ {
			if base != nil {
				off = base[i] - float32(unit.Zero)
			}
			v := (step*float32(x[i])-off)*g + 0.5
			out[i] = uint16(min(max(v, 0), math.MaxUint16))
		}
	})
}

// normalise divides a master flat by its mean; in a colour mosaic each plane by its own.
func normalise(pixels []float32, width int, mosaic bool) {
	stride := 1
	if mosaic {
		stride = 2
	}
	for p := range stride * stride {
		var sum, n float64
		height := len(pixels) / width
		for y := p / 2; y < height; y += stride {
			for x := p % 2; x < width; x += stride {
				sum += float64(pixels[y*width+x])
				n++
			}
		}
		inv := float32(n / sum)
		for y := p / 2; y < height; y += stride {
			for x := p % 2; x < width; x += stride {
				pixels[y*width+x] *= inv
			}
		}
	}
}

// masterSNR is the signal to noise of a pixel of the master flat.
func (f *flatRun) masterSNR() stats.Value {
	if !f.noise.OK() {
		return stats.Missing(f.noise.Why)
	}
	v := flatScale * math.Sqrt(float64(len(f.frames))) / f.noise.V
	return stats.Known(v, v*f.noise.Err/f.noise.V, len(f.frames))
}

// set writes the figures down.
func (f *flatRun) set(a *analysis) *Set {
	s := &Set{Label: f.group.Label(), Kind: "flat", Group: f.group, Camera: f.group.Camera}
	if f.run != nil {
		s.Warnings = f.warnings
	}
	if !f.ok() {
		s.missing(f.why, "level_fraction", "saturated_fraction", "gain_e_per_adu:e-/ADU", "prnu_pct:%", "corner_falloff_pct:%", "dust_shadows", "flicker_pct:%", "master_snr")
		return s
	}
	m := a.modeOf(f.group)
	levels := f.rawLevels()
	level := stats.Median(levels)
	s.add("level_fraction", stats.Known(level/m.saturation, spanOf(levels)/m.saturation/math.Sqrt(12), len(levels)), "", f.levelNote(m))
	s.add("saturated_fraction", f.saturated(m.saturation), "", "")
	gain := f.gain()
	s.add("gain_e_per_adu", gain, "e-/ADU", "two flats and two bias frames; offset from "+f.offsetFrom)
	s.add("prnu_pct", f.prnu, "%", "")
	s.add("corner_falloff_pct", f.corner, "%", fmt.Sprintf("lower left %.1f, lower right %.1f, upper left %.1f, upper right %.1f",
		f.detail.CornerPct[0], f.detail.CornerPct[1], f.detail.CornerPct[2], f.detail.CornerPct[3]))
	s.add("dust_shadows", f.shadowN, "", shadowNote(f.detail.Shadows))
	note := ""
	if d := f.detail.DriftPct; d.OK() {
		note = fmt.Sprintf("level drifts by %+.2g %% over the set", d.V)
	}
	s.add("flicker_pct", f.flicker, "%", note)
	s.add("master_snr", f.snr, "", "a pixel of the master")
	s.Flat = f.detail
	f.warn(s, m)
	return s
}

// rawLevels are the levels of all flats, offset included, ADU.
func (f *flatRun) rawLevels() []float64 {
	var levels []float64
	for _, s := range f.shots {
		levels = append(levels, s.level)
	}
	return levels
}

func (f *flatRun) levelNote(m *mode) string {
	levels := f.rawLevels()
	note := fmt.Sprintf("%.0f of %.0f ADU", stats.Median(levels), m.saturation)
	if lo, hi := slices.Min(levels), slices.Max(levels); hi > pairRange*lo {
		note += fmt.Sprintf("; from %.0f to %.0f ADU, the master of %s", lo, hi, plural(len(f.frames), "flat"))
	}
	return note
}

// saturated is the fraction of samples at saturation.
func (f *flatRun) saturated(saturation float64) stats.Value {
	var at float64
	from := math.Ceil((saturation - f.rawUnit.Zero) / f.rawUnit.Step)
	for i := max(0, int(from)); i < len(f.raw.Counts); i++ {
		at += float64(f.raw.Counts[i])
	}
	n := float64(f.raw.N())
	p := at / n
	return stats.Known(p, math.Sqrt(p*(1-p)/n), len(f.shots))
}

// gain is the mean over the set's pairs, weighted by their errors.
func (f *flatRun) gain() stats.Value {
	if len(f.points) == 0 {
		return stats.Missing("one flat: the gain needs two of about the same level")
	}
	return weightedGain(f.points)
}

// weightedGain leaves out pairs that stand off the median of three or more by
// five of their errors and by 3 %: a banded flat, or a light that jumped.
func weightedGain(points []TransferPoint) stats.Value {
	why := ""
	var gains []float64
	for _, p := range points {
		if p.Gain.OK() {
			gains = append(gains, p.Gain.V)
		} else {
			why = p.Gain.Why
		}
	}
	if len(gains) == 0 {
		return stats.Missing(why)
	}
	median := stats.Median(gains)
	var sum, weight float64
	var each []float64
	for _, p := range points {
		off := math.Abs(p.Gain.V - median)
		if !p.Gain.OK() || len(gains) >= 3 && off > max(5*p.Gain.Err, 0.03*median) {
			continue
		}
		w := 1 / (p.Gain.Err * p.Gain.Err)
		sum += w * p.Gain.V
		weight += w
		each = append(each, p.Gain.V)
	}
	err := 1 / math.Sqrt(weight)
	if n := float64(len(each)); n > 2 {
		err = max(err, math.Sqrt(stats.Variance(each)/(n-1)))
	}
	return stats.Known(sum/weight, err, len(each)+1)
}

func (f *flatRun) warn(s *Set, m *mode) {
	level := stats.Median(f.rawLevels())
	sat := f.saturated(m.saturation).V
	switch {
	case level > 0.85*m.saturation:
		s.Warnings = append(s.Warnings, fmt.Sprintf("flats at %.0f %% of saturation are too bright to be linear: shorten the exposure to reach 30 to 60 %%", 100*level/m.saturation))
	case level < 0.1*m.saturation:
		s.Warnings = append(s.Warnings, fmt.Sprintf("flats at %.0f %% of saturation hold little light: expose for 30 to 60 %%", 100*level/m.saturation))
	}
	if sat > 1e-4 && level <= 0.85*m.saturation {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%.2g %% of the flats' samples are saturated", 100*sat))
	}
	if f.offsetFrom == "" {
		s.Warnings = append(s.Warnings, "no bias and no darks to take off the flats: the master flat corrects too little; shoot bias frames with the flats' gain and offset")
	}
	if f.flicker.OK() && f.flicker.V > 1 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the light flickers by %.1f %% from flat to flat: use longer exposures or a steadier lamp", f.flicker.V))
	}
	if f.snr.OK() && f.snr.V < 200 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the master flat's signal to noise is %.0f a pixel: %d flats would bring it to 500", f.snr.V, int(math.Ceil(float64(len(f.frames))*math.Pow(500/f.snr.V, 2)))))
	}
}

func shadowNote(shadows []Shadow) string {
	var words []string
	for i, s := range shadows {
		if i == 5 {
			words = append(words, fmt.Sprintf("and %d more", len(shadows)-5))
			break
		}
		words = append(words, fmt.Sprintf("at %.0f,%.0f %.0f px wide %.1f %% deep", s.X, s.Y, s.Diameter, s.DepthPct))
	}
	return strings.Join(words, "; ")
}
