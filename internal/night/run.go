package night

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/subs"
)

// ErrNothing says that the folders hold no frame that can be used.
var ErrNothing = errors.New("no usable frame was found")

// Progress is called with how far a stage of the work has come.
type Progress func(stage string, done, total int)

// Run analyses the frames below the folders: the pipeline in reading order. A
// bad file is a row of the result; only folders that cannot be opened, nothing
// usable at all, or ctx are errors.
func Run(ctx context.Context, roots []string, s Settings, progress Progress) (*Result, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	if progress == nil {
		progress = func(string, int, int) {}
	}
	stage := func(name string) func(done, total int) {
		return func(done, total int) { progress(name, done, total) }
	}
	r := &Result{Roots: absolute(roots), Settings: s}

	if err := r.scan(ctx, roots, stage("reading headers")); err != nil {
		return nil, err
	}
	r.Sorted = frames.Sort(r.Frames)
	known := newMemory(s.Cache)
	if err := r.measureCalibration(ctx, known, stage("measuring calibration frames")); err != nil {
		return nil, err
	}
	if err := r.measureSubs(ctx, known, stage("measuring subs")); err != nil {
		return nil, err
	}
	early := r.searchEarly(ctx, known)
	defer early.stop()
	r.align(known)
	r.partFields(known)
	r.partLight(known)
	r.seekLight(known)
	r.place(ctx, known, early)
	r.findDuplicates()
	r.addConditions(r.Subs)
	r.Local = r.localTime()
	r.fitExtinctions()
	r.applyDecisions()
	r.Verdicts = subs.Judge(r.judged(), s.Limits)
	r.compareWithSeason(known)
	r.combineFields()
	r.collectMotions()
	groups := r.judgedGroups()
	r.weighCalibration(ctx, known, groups)
	r.matchDust()
	r.makePlan(groups)
	r.collectWarnings()
	r.Finished = time.Now().UTC()
	return r, nil
}

// scan reads the headers of all files below the folders.
func (r *Result) scan(ctx context.Context, roots []string, progress func(done, total int)) (err error) {
	opt := r.Settings.Frames
	opt.Memory = r.Settings.roomForFrames()
	opt.Workers, opt.Progress = r.Settings.Workers, progress
	opt.LeftOut = func(folder string) {
		r.warn(CulledBefore, fact.Text("folder", frames.Printable(folder)))
	}
	looks := newLooks(r.Settings.Cache, roots)
	if looks != nil {
		opt.Looks = looks
	}
	if r.Frames, err = frames.Scan(ctx, roots, opt); err != nil {
		return err
	}
	if looks != nil {
		looks.save()
	}
	if !anyReadable(r.Frames) {
		return nothingIn(r.Frames)
	}
	return nil
}

// nothingIn says that none of the files can be used, and of the first few why.
func nothingIn(files []*frames.Frame) error {
	const few = 3
	var why []string
	for _, f := range files {
		if f.Err != nil && len(why) < few {
			why = append(why, f.Name+": "+f.Err.Error())
		}
	}
	if len(files) == 0 {
		return fmt.Errorf("%w: no file there ends in .fit, .fits or .fts (or these and .gz), or .fz; pictures of other formats are not read", ErrNothing)
	}
	if len(files) > few {
		why = append(why, "...")
	}
	return fmt.Errorf("%w (%s looked at): %s", ErrNothing, fact.Plural(len(files), "file"), strings.Join(why, "; "))
}

// measureCalibration measures the calibration frames and makes masters of them.
func (r *Result) measureCalibration(ctx context.Context, known *memory, progress func(done, total int)) (err error) {
	opt := r.Settings.Calib
	opt.Remembered, opt.Progress = r.Settings.Camera, progress
	r.Settings.share(r.Sorted, &opt)
	r.Calib, err = known.analyse(ctx, r.Sorted, opt)
	return err
}

// absolute are paths that mean the same from any folder, as far as that is known.
func absolute(paths []string) []string {
	out := slices.Clone(paths)
	for i, p := range paths {
		if abs, err := filepath.Abs(p); err == nil {
			out[i] = abs
		}
	}
	return out
}

func anyReadable(fs []*frames.Frame) bool {
	for _, f := range fs {
		if f.Err == nil {
			return true
		}
	}
	return false
}
