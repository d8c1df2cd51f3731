package calib

import (
	"slices"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// With room for one master the figures and what is taken off the subs are those of a
// run that holds all, and no frame is read once more: what there is no room for waits in
// a file, and is not stacked again. With room for none, likewise.
func TestRoomForOneMaster(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(61)
	c.frames(6, frames.Bias, 0, 0, 0)
	c.frames(4, frames.Dark, 100, 0, 0)
	c.frames(4, frames.Dark, 300, 0, 0)
	for _, filter := range []names.Name{"L", "Ha"} {
		for range 4 {
			c.frame(frames.Flat, 3, 0, 15000).Meta.Filter = filter
		}
		c.frame(frames.Light, 100, 0, 200).Meta.Filter = filter
	}
	type outcome struct {
		sets           []*sensor.Set
		taken, divided [][]float32
		reads          int64
	}
	with := func(room *stack.Room) outcome {
		var out outcome
		var reads atomic.Int64
		r := c.analyse(t, func(opt *Options) {
			opt.Room = room
			opt.Read = func(f *frames.Frame, im *frames.Image) error { reads.Add(1); return c.read16(f, im) }
		})
		for _, cover := range r.Coverage {
			calibration := r.For(cover.Lights)
			p := calibration.Planes()
			out.taken, out.divided = append(out.taken, p.Subtract.Pixels()), append(out.divided, p.Flat.Pixels())
		}
		out.sets, out.reads = r.Sets, reads.Load()
		return out
	}
	want := with(nil)
	if len(want.taken) != 2 || want.taken[0] == nil || want.divided[1] == nil || want.reads == 0 {
		t.Fatalf("%d groups of subs, %d reads", len(want.taken), want.reads)
	}
	for name, bytes := range map[string]int64{"one": 4 * int64(c.w*c.h), "none": 0} {
		got := with(stack.NewRoom(bytes))
		if got.reads != want.reads {
			t.Errorf("room for %s: %d reads of frames, with room for all %d", name, got.reads, want.reads)
		}
		for k := range want.taken {
			if !slices.Equal(got.taken[k], want.taken[k]) || !slices.Equal(got.divided[k], want.divided[k]) {
				t.Errorf("room for %s: other masters are applied to the subs of group %d", name, k)
			}
		}
		for k, s := range want.sets {
			for i, m := range s.Metrics() {
				if diff := cmp.Diff(m.Value, got.sets[k].Metrics()[i].Value, cmpopts.EquateNaNs()); diff != "" {
					t.Errorf("room for %s: %s %s: %s", name, s.Label, m.Name, diff)
				}
			}
		}
	}
}
