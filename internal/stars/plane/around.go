package plane

import "fitsqa/internal/stats"

// Around is a square of pixels around one, to be asked for before it is looked at.
type Around struct {
	p  *Plane
	at []int32 // counted from its middle, a pixel of every piece of memory that comes as one
}

// pieceOfMemory is how many pixels come together, those of 64 bytes.
const pieceOfMemory = 16

// Around is a square that reaches so many px to all sides.
func (p *Plane) Around(reach float64) Around {
	a := Around{p: p}
	r := int(reach)
	for y := -r; y <= r; y++ {
		for x := -r; x < r; x += pieceOfMemory {
			a.at = append(a.at, int32(y*p.W+x))
		}
		a.at = append(a.at, int32(y*p.W+r))
	}
	return a
}

// Fetch asks for the square around a place.
func (a Around) Fetch(x, y int) {
	a.fetchAt(min(max(y, 0), a.p.H-1)*a.p.W + min(max(x, 0), a.p.W-1))
}

func (a Around) fetchAt(i int) { stats.Fetch(a.p.R, i, a.at) }
