package night

import (
	"errors"
	"testing"

	"fitsqa/internal/frames"
)

// Large frames get fewer workers under a cap, never none, and a warning where
// even one may not fit; what cannot be read does not count.
func TestMemoryCapMeansFewerWorkers(t *testing.T) {
	frame := func(kind frames.Kind, width, height, planes int) *frames.Frame {
		f := &frames.Frame{Kind: kind}
		f.Image.Width, f.Image.Height, f.Image.Planes = width, height, planes
		return f
	}
	light := frame(frames.Light, 6000, 4000, 1) // 275 MiB a worker
	all := []*frames.Frame{light,               // 183 MiB for two masters
		frame(frames.Bias, 6000, 4000, 1), frame(frames.Dark, 6000, 4000, 1), frame(frames.Flat, 6000, 4000, 1)}
	colour := frame(frames.Light, 6000, 4000, 3)
	small := frame(frames.Light, 800, 600, 1)
	broken := frame(frames.Light, 60000, 40000, 1)
	broken.Err = errors.New("cut short")
	for _, c := range []struct {
		mib  int
		fs   []*frames.Frame
		want int
		warn bool
	}{
		{1400, []*frames.Frame{light}, 4, false},
		{1400, all, 4, false},
		{900, all, 2, false},
		{700, all, 1, false},
		{500, all, 1, false},
		{300, []*frames.Frame{light}, 1, true},
		{900, []*frames.Frame{colour}, 1, false},
		{300, []*frames.Frame{small, broken}, 8, false},
		{300, nil, 8, false},
	} {
		s := Settings{Workers: 8, MemoryMiB: c.mib}
		if got := s.workersFor(c.fs); got != c.want {
			t.Errorf("%d MiB: %d workers, want %d", c.mib, got, c.want)
		}
		if warned := s.memoryWarning(c.fs) != nil; warned != c.warn {
			t.Errorf("%d MiB: warned %v, want %v", c.mib, warned, c.warn)
		}
	}
}
