package calib

import (
	"context"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// Analyse measures every calibration frame of a scan (subs are used for coverage
// only). Only ctx is an error; a frame that cannot be read is named in a
// warning of its set.
func Analyse(ctx context.Context, scan *frames.Sorted, opt Options) (*Result, error) {
	a := &analysis{opt: opt, masters: map[*frames.Group]*stack.Plane{}}
	a.stacker = stack.New(ctx, stack.Options{Workers: opt.Workers, Memory: opt.Memory, Read: opt.Read, Progress: opt.Progress})
	a.cameras = sensor.New(a.stacker, sensor.Options{Workers: opt.Workers, TempTolC: opt.TempTolC, ExposureTol: opt.ExposureTol,
		HotSigma: opt.HotSigma, AllHot: opt.Maps || opt.Masters, Remembered: opt.Remembered, Room: opt.Room})
	a.addMasters(scan.Masters)
	of := map[frames.Kind][]*frames.Group{}
	for _, g := range a.adoptMasters(scan.Groups) {
		of[g.Kind] = append(of[g.Kind], g)
		switch g.Kind {
		case frames.Bias, frames.Dark, frames.Flat:
			a.stacker.Expect(len(g.Frames))
		}
	}
	a.lights = of[frames.Light]
	a.cameras.MeasureBias(of[frames.Bias])
	darks := a.adoptQuiet(of[frames.Dark])
	a.darks = darks
	early := a.lendMasters(of[frames.Flat])
	a.cameras.Measure(darks, of[frames.Flat], a.lights, slices.Concat(a.ready[frames.Bias], a.ready[frames.Dark], a.ready[frames.Flat]))
	a.askedSubs = a.cameras.AskedSubs
	a.forget(early)
	a.checkMasters()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r := &Result{analysis: a, Sets: a.cameras.Sets(), Coverage: a.coverage()}
	a.stacker.Detach() // masters may be read after this
	return r, nil
}
