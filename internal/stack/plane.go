package stack

import (
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"fitsqa/internal/scratch"
	"fitsqa/internal/stats"
)

// Plane is one number for every pixel of a frame: a master. It is in memory, or in
// a file where its room is too small for all.
type Plane struct {
	n    int
	room *Room

	mu   sync.Mutex
	held []float32 // nil while it is only in the file
	at   int64     // where in the file; -1: not there
}

// Room holds planes in memory up to a limit, those used last, and the others in a
// file without a name. A nil Room holds all in memory.
type Room struct {
	limit int64 // bytes

	mu    sync.Mutex
	order []*Plane // in memory, the one used last at the end
	file  *scratch.File
	none  bool // no file can be had: all stay in memory
}

// NewRoom is a room of so many bytes of memory.
func NewRoom(bytes int64) *Room { return &Room{limit: bytes} }

// Add takes in a plane, nil for none. The pixels must not be changed from then on.
func (r *Room) Add(pixels []float32) *Plane {
	if len(pixels) == 0 {
		return nil
	}
	p := &Plane{n: len(pixels), room: r, held: pixels, at: -1}
	r.use(p)
	return p
}

// Len is how many pixels there are; none of a nil Plane.
func (p *Plane) Len() int {
	if p == nil {
		return 0
	}
	return p.n
}

// Pixels are all of them, which stay in memory as long as they are referred to;
// nil when they cannot be read back. They must not be changed.
func (p *Plane) Pixels() []float32 {
	if p == nil {
		return nil
	}
	p.mu.Lock()
	if p.held == nil {
		p.held = p.read(stats.Floats(p.n), 0)
	}
	pixels := p.held
	p.mu.Unlock()
	if pixels != nil {
		p.room.use(p)
	}
	return pixels
}

// Strip is n pixels from the index first on, which must not be changed; NaN where
// they cannot be read back.
func (p *Plane) Strip(first, n int) []float32 {
	p.mu.Lock()
	held := p.held
	p.mu.Unlock()
	if held != nil {
		return held[first : first+n]
	}
	some := make([]float32, n)
	if p.read(some, first) == nil {
		for i := range some {
			some[i] = float32(math.NaN())
		}
	}
	return some
}

// Copy is all of them as the caller's own; nil when they cannot be read back.
func (p *Plane) Copy() []float32 {
	if p == nil {
		return nil
	}
	p.mu.Lock()
	held := p.held
	p.mu.Unlock()
	if held != nil {
		return slices.Clone(held)
	}
	return p.read(stats.Floats(p.n), 0)
}

// ReadPixels is how many pixels go to or from the file at a time.
const ReadPixels = 64 << 10

// read fills dst with the pixels from first on; nil where that fails.
func (p *Plane) read(dst []float32, first int) []float32 {
	raw := make([]byte, 4*min(len(dst), ReadPixels))
	for done := 0; done < len(dst); {
		n := min(len(dst)-done, ReadPixels)
		if _, err := p.room.file.ReadAt(raw[:4*n], p.at+4*int64(first+done)); err != nil {
			return nil
		}
		for i := range n {
			dst[done+i] = math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
		}
		done += n
	}
	return dst
}

// leave moves the plane into the file; false where that fails.
func (p *Plane) leave(file *scratch.File) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.at < 0 {
		at := file.Reserve(4 * p.n)
		raw := make([]byte, 0, 4*min(p.n, ReadPixels))
		for from := 0; from < p.n; from += ReadPixels {
			raw = raw[:0]
			for _, v := range p.held[from:min(from+ReadPixels, p.n)] {
				raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(v))
			}
			if _, err := file.WriteAt(raw, at+4*int64(from)); err != nil {
				return false
			}
		}
		p.at = at
	}
	p.held = nil
	return true
}

// use notes that a plane is in memory, and has those unused for longest leave.
func (r *Room) use(p *Plane) {
	if r == nil {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.order = append(slices.DeleteFunc(r.order, func(o *Plane) bool { return o == p }), p)
	var used int64
	for _, o := range r.order {
		used += 4 * int64(o.n)
	}
	for used > r.limit && len(r.order) > 0 && !r.none {
		if r.file == nil {
			r.file = scratch.New()
		}
		oldest := r.order[0]
		if r.file == nil || !oldest.leave(r.file) {
			r.none = true // a full disk costs memory and nothing else
			return
		}
		used -= 4 * int64(oldest.n)
		r.order = r.order[1:]
	}
}
