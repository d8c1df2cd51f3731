package night

import (
	"errors"
	"testing"

	"fitsqa/internal/frames"
)

// Large frames get fewer workers under a cap, never none; what cannot be read
// does not count.
func TestMemoryCapMeansFewerWorkers(t *testing.T) {
	frame := func(width, height, planes int) *frames.Frame {
		f := &frames.Frame{}
		f.Image.Width, f.Image.Height, f.Image.Planes = width, height, planes
		return f
	}
	large := frame(6000, 4000, 1) // 275 MiB a worker, and as much for the masters
	broken := frame(60000, 40000, 1)
	broken.Err = errors.New("cut short")
	for _, c := range []struct {
		mib  int
		fs   []*frames.Frame
		want int
	}{
		{1400, []*frames.Frame{large}, 4},
		{900, []*frames.Frame{large}, 2},
		{300, []*frames.Frame{large}, 1},
		{1400, []*frames.Frame{frame(6000, 4000, 3)}, 1},
		{300, []*frames.Frame{frame(800, 600, 1), broken}, 8},
		{300, nil, 8},
	} {
		s := Settings{Workers: 8, MemoryMiB: c.mib}
		if got := s.workersFor(c.fs); got != c.want {
			t.Errorf("%d MiB: %d workers, want %d", c.mib, got, c.want)
		}
	}
}
