package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// stackFlats measures levels and pairs of the flats, and makes the master.
func (f *flatRun) stackFlats(cs *Cameras) ([]float32, error) {
	failed, err := f.look(cs, f.base(cs))
	f.Series = &stack.Series{Unit: stack.Whole}
	f.Warnings = append(f.Warnings, stack.Unreadable(failed)...)
	if err != nil {
		return nil, err
	}
	f.findShutter()
	f.choose()
	m, err := f.combineScaled(cs, f.base(cs))
	if err != nil || m == nil {
		if len(f.shots) > 0 {
			f.why = fact.Of(NoUsableFlat)
		}
		return nil, err
	}
	if n := f.pixelNoise(); n.OK() {
		f.Noise = n
	}
	return m, nil
}

// look streams the flats for levels, samples and pairs of neighbours, and names
// those that cannot be read.
func (f *flatRun) look(cs *Cameras, base []float32) (failed []string, err error) {
	f.raw = stats.NewHistogram(0, math.MaxUint16)
	f.points, f.shots, f.noises, f.top = nil, nil, nil, topSample
	mosaic := len(planeNames(f.group.Frames[0].Meta)) > 0
	mixed := f.mixed()
	_, failed, err = cs.stacker.Stream(f.inOrder(), func(unit stack.Scale, before *stack.Sample, batch []*stack.Sample) {
		f.rawUnit = unit
		for _, s := range batch {
			h := stats.HistogramOf(s.X)
			f.raw.Merge(h)
			middle := h.Quantile(0.5)
			if p := pileUp(h, ofFlats); !math.IsNaN(p) {
				f.top = min(f.top, saturatedFrom*p)
			}
			level := middle
			if mosaic { // whose middle sample lies between colours, where there are none: it leaps from one to the other
				_, level, _ = h.Moments(0, math.MaxUint16)
			}
			shot := flatShot{s.Frame, middle, unit.Zero + unit.Step*level, unit.Zero + unit.Step*level - f.offset, nil}
			if mixed {
				shot.shape = shapeOf(s.X, base, f.group.Width, func(v uint16) float64 { return unit.Zero + unit.Step*float64(v) }, f.offset)
			}
			if before != nil {
				if r := shot.light / f.shots[len(f.shots)-1].light; r < pairRange && r > 1/pairRange {
					f.comparePair(before, s, mosaic, cs.opt.Workers)
				}
			}
			f.shots = append(f.shots, shot)
			before = s
		}
	})
	return failed, err
}

func (f *flatRun) choose() {
	f.used = nil
	brightest := 0.0 // light of the brightest flat that is not saturated, ADU
	darkest := f.darkest()
	f.full = f.fullFrom()
	for _, s := range f.shots {
		switch {
		case !(s.light > darkest):
			f.Warnings = append(f.Warnings, fact.Of(FlatDark, fact.Text("file", s.frame.Name)))
		case s.middle > f.top || s.light >= f.full:
			f.Warnings = append(f.Warnings, fact.Of(FlatSaturated, fact.Text("file", s.frame.Name)))
		case s.light >= faintest*brightest: // a fainter one would bring more noise than light
			brightest = max(brightest, s.light)
			f.used = append(f.used, s)
		}
	}
	f.leaveOutShort()
}

// fullFrom is the light of flats from which on their pixels are full, though the converter
// is not: less noise than fainter ones show. Infinite where none are.
func (f *flatRun) fullFrom() float64 {
	const alike = 0.98 // of one level
	_, fallen := pastPeak(f.points)
	from := math.Inf(1)
	for _, p := range fallen {
		brighter := 0.0
		for _, s := range f.shots {
			if s.frame == p.of[0] || s.frame == p.of[1] {
				brighter = max(brighter, s.light)
			}
		}
		from = min(from, alike*brighter)
	}
	return from
}

// combineScaled brings the flats of the master to one level and stacks them: strip
// by strip where the files allow it, else frame by frame. nil where there are none.
func (f *flatRun) combineScaled(cs *Cameras, base []float32) ([]float32, error) {
	var fs []*frames.Frame
	for _, s := range f.used {
		fs = append(fs, s.frame)
	}
	if len(fs) == 0 {
		return nil, nil
	}
	done, err := cs.stacker.Strips(f.Series, fs, func(i, first int, x []uint16) {
		toScale(x, first, f.rawUnit, base, f.offset, flatScale/f.used[i].light)
	})
	if err == nil && !done {
		err = f.stackScaledFrames(cs, fs, base)
	}
	if err != nil || f.Sums.Frames == 0 {
		return nil, err
	}
	f.Step = float64(f.raw.Step()) * f.rawUnit.Step
	f.Noise = f.PairNoise()
	if f.Pixels == nil {
		f.Finish(cs.opt.Workers)
	}
	m := f.ADU()
	means := Normalise(m, f.group)
	f.firstLevel = means[0] / flatScale
	return m, nil
}

func (f *flatRun) stackScaledFrames(cs *Cameras, fs []*frames.Frame, base []float32) error {
	if err := cs.stacker.RoomForWhole(fs); err != nil {
		return err
	}
	f.Sums = stats.NewStack(f.group.Width, f.group.Height)
	lights := map[*frames.Frame]float64{}
	for _, s := range f.used {
		lights[s.frame] = s.light
	}
	_, failed, err := cs.stacker.Stream(fs, func(unit stack.Scale, before *stack.Sample, batch []*stack.Sample) {
		var last []uint16
		if before != nil {
			last = before.X // scaled in its turn
		}
		var scaled [][]uint16
		for _, s := range batch {
			parallel.Ranges(len(s.X), cs.opt.Workers, func(_, from, to int) {
				toScale(s.X[from:to], from, unit, base, f.offset, flatScale/lights[s.Frame])
			})
			scaled = append(scaled, s.X)
			f.Frames = append(f.Frames, s.Frame)
		}
		f.Sums.Add(last, scaled, cs.opt.Workers)
	})
	f.Warnings = append(f.Warnings, stack.Unreadable(failed)...)
	return err
}

// toScale turns samples from pixel first on into (x - base) times factor, rounded,
// x in its unit and base in ADU; base nil: the scalar offset.
func toScale(x []uint16, first int, unit stack.Scale, base []float32, offset, factor float64) {
	g, step, zero := float32(factor), float32(unit.Step), float32(unit.Zero)
	off := float32(offset - unit.Zero)
	for i, v := range x {
		if base != nil {
			off = base[first+i] - zero
		}
		x[i] = uint16(min(max((step*float32(v)-off)*g+0.5, 0), math.MaxUint16))
	}
}
