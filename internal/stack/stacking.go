package stack

import (
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Stack streams a series into a stack, twice when frames stand out by
// their level: the second time without them.
func (st *Stacker) Stack(fs []*frames.Frame) (*Series, error) {
	r, err := st.stackOnce(fs)
	if err != nil || len(r.Frames) == 0 {
		return r, err
	}
	if r, err = st.withoutImpostors(r); err != nil {
		return r, err
	}
	keep := r.Frames[:0:0]
	out := map[*frames.Frame]bool{}
	var names []string
	for i, l := range r.Levels {
		if l.Outlier {
			out[r.Frames[i]] = true
			names = append(names, l.Name)
		} else {
			keep = append(keep, r.Frames[i])
		}
	}
	if len(out) == 0 {
		return r, nil
	}
	levels := r.Levels
	failed := r.Warnings
	if r, err = st.stackOnce(keep); err != nil {
		return r, err
	}
	r.Levels, r.Warnings = levels, failed
	r.Warnings = append(r.Warnings, fact.Of(LevelsOff, fact.Text("files", strings.Join(names, ", "))))
	return r, nil
}

// stackOnce streams a series: strip by strip where the files allow it, else
// frame by frame.
func (st *Stacker) stackOnce(fs []*frames.Frame) (*Series, error) {
	r := &Series{}
	done, err := st.Strips(r, fs, nil)
	if err == nil && !done {
		err = st.stackFrames(r, fs)
	}
	if err != nil || len(r.Frames) == 0 {
		return r, err
	}
	r.first = r.Sums.First
	r.Step = float64(r.Sums.Samples.Step()) * r.Unit.Step
	r.Noise = r.PairNoise()
	r.mendCut()
	if r.Pixels == nil {
		r.Finish(st.opt.Workers)
	}
	r.rateLevels()
	return r, nil
}

// stackFrames streams whole frames. It takes any file, and leaves out those
// that cannot be read.
func (st *Stacker) stackFrames(r *Series, fs []*frames.Frame) error {
	if err := st.RoomForWhole(fs); err != nil {
		return err
	}
	sums := stats.NewStack(fs[0].Image.Width, fs[0].Image.Height)
	unit, failed, err := st.Stream(fs, func(_ Scale, before *Sample, batch []*Sample) {
		var x []uint16
		if before != nil {
			x = before.X
		}
		var samples [][]uint16
		for _, s := range batch {
			r.Frames = append(r.Frames, s.Frame)
			samples = append(samples, s.X)
		}
		sums.Add(x, samples, st.opt.Workers)
	})
	r.Warnings = append(r.Warnings, Unreadable(failed)...)
	r.Sums, r.Unit = sums, unit
	return err
}

// withoutImpostors stacks a series again without copies and combined frames.
func (st *Stacker) withoutImpostors(r *Series) (*Series, error) {
	if r.Constant() {
		return r, nil
	}
	copies := CopiesAmong(r.Sums.RowMeans)
	calm := calmAmong(r.Sums.RowMeans)
	if len(copies)+len(calm) == 0 {
		return r, nil
	}
	var keep []*frames.Frame
	for i, f := range r.Frames {
		if _, copied := copies[i]; !copied && !slices.Contains(calm, i) {
			keep = append(keep, f)
		}
	}
	warnings := append(r.Warnings, ImpostorWarnings(r.Frames, copies, calm)...)
	again, err := st.stackOnce(keep)
	if err != nil {
		return again, err
	}
	again.Warnings = append(warnings, again.Warnings...)
	if len(copies) > 0 && len(keep) == 1 {
		again.Noise = stats.Missing(NoDifference)
	}
	return again, nil
}
