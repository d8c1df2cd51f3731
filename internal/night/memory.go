package night

import (
	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
)

// What is held at once, bytes. A worker on a sub holds each sample once, as 4
// bytes, with sums over 2x2 px and masks, and garbage comes on top: 7 to 8 bytes
// as measured, so that 12 is on the safe side; a calibration set on its way takes
// about 11. Two masters of 4 bytes a sample are wanted for every strip of a
// sub; others are in a file when there is no room for them. The rest of the program,
// its code included, takes about the same whatever the frames.
const (
	bytesPerSample = 12
	bytesPerMaster = 4
	mastersWanted  = 2
	bytesBeside    = 48 << 20
)

// roomForFrames is the most that one frame may take.
func (s *Settings) roomForFrames() int64 { return int64(s.MemoryMiB)<<20 - bytesBeside }

// workersFor is how many frames may be worked on at once without going over
// the memory that the user allows; one always may.
func (s *Settings) workersFor(fs []*frames.Frame) int {
	need, master := bytesHeld(fs)
	return int(max(1, min(int64(s.Workers), (s.roomForFrames()-mastersWanted*master)/max(1, need))))
}

// share divides the memory between masters and the work on frames.
func (s *Settings) share(scan *frames.Sorted, opt *calib.Options) {
	need, master := bytesHeld(scan.Frames)
	opt.Workers = s.workersFor(scan.Frames)
	work := int64(opt.Workers) * need
	all := master * int64(len(scan.Groups)+len(scan.Masters))
	room := min(all, max(0, s.roomForFrames()-work))
	opt.Room = stack.NewRoom(room)
	opt.Memory = max(work, s.roomForFrames()-room)
}

// memoryWarning says when one worker alone may need more than the user allows.
func (s *Settings) memoryWarning(fs []*frames.Frame) []fact.Fact {
	need, _ := bytesHeld(fs)
	if need <= s.roomForFrames() {
		return nil
	}
	return []fact.Fact{fact.Of(FramesTooLarge, fact.Number("need_mib", float64((need+bytesBeside)>>20)), fact.Number("limit_mib", float64(s.MemoryMiB)))}
}

// bytesHeld is the most that a worker holds of a readable frame, and the bytes of
// the largest master.
func bytesHeld(fs []*frames.Frame) (need, master int64) {
	for _, f := range fs {
		if f.Err != nil {
			continue
		}
		n := int64(f.Image.Pixels()) * int64(f.Image.Planes)
		need = max(need, n*bytesPerSample+f.Image.Unpacking)
		if f.Kind == frames.Bias || f.Kind == frames.Dark || f.Kind == frames.Flat {
			master = max(master, n*bytesPerMaster)
		}
	}
	return need, master
}
