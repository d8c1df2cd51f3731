package night

import (
	"fmt"

	"fitsqa/internal/frames"
)

// What is held at once, bytes. A worker on a sub holds each sample once, as 4
// bytes, with sums over 2x2 px and masks, and garbage comes on top: 7 to 8 bytes
// as measured, so that 12 is on the safe side. Masters of 4 bytes a sample are
// shared by all, one for each kind of calibration frame that there is. The rest
// of the program, its code included, takes about the same whatever the frames.
const (
	bytesPerSample       = 12
	bytesPerMasterSample = 4
	bytesBeside          = 48 << 20
)

// roomForFrames is the most that one frame may take.
func (s *Settings) roomForFrames() int64 { return int64(s.MemoryMiB)<<20 - bytesBeside }

// workersFor is how many frames may be worked on at once without going over
// the memory that the user allows; one always may.
func (s *Settings) workersFor(fs []*frames.Frame) int {
	need, shared := bytesHeld(fs)
	return int(max(1, min(int64(s.Workers), (s.roomForFrames()-shared)/max(1, need))))
}

// memoryWarning says when one worker alone may need more than the user allows.
func (s *Settings) memoryWarning(fs []*frames.Frame) []string {
	need, shared := bytesHeld(fs)
	need += bytesBeside + shared
	if need <= int64(s.MemoryMiB)<<20 {
		return nil
	}
	return []string{fmt.Sprintf("frames this large can take %d MiB with one worker alone, more than the %d MiB of --memory", need>>20, s.MemoryMiB)}
}

// bytesHeld is the most that a worker holds of a readable frame, and the bytes of
// the masters that all workers share.
func bytesHeld(fs []*frames.Frame) (need, shared int64) {
	masters := map[frames.Kind]int64{}
	for _, f := range fs {
		if f.Err != nil {
			continue
		}
		n := int64(f.Image.Pixels()) * int64(f.Image.Planes)
		need = max(need, n*bytesPerSample+f.Image.Unpacking)
		if f.Kind == frames.Bias || f.Kind == frames.Dark || f.Kind == frames.Flat {
			masters[f.Kind] = max(masters[f.Kind], n*bytesPerMasterSample)
		}
	}
	for _, bytes := range masters {
		shared += bytes
	}
	return need, shared
}
