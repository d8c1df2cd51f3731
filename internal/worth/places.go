package worth

import (
	"maps"
	"math"
	"slices"
)

// Place is where a sub lies on the sky: pixel x, y of the sub falls on
// (A x + B y + C, D x + E y + F) of the stack, px.
type Place struct{ A, B, C, D, E, F float64 }

// spots of the frame where the subs' shifts are compared, shares of its sides:
// a turned field moves the corners otherwise than the middle.
var spots = [][2]float64{{0.5, 0.5}, {0.1, 0.1}, {0.9, 0.1}, {0.1, 0.9}, {0.9, 0.9}}

// layout is how the subs of a stack lie on each other.
type layout struct {
	n       int       // subs
	share   float64   // sum over all pixels of the stack that one sensor pixel falls on of (subs there / n)²: 1 all on one, 1/n none twice
	meeting []meeting // how many subs meet on those pixels
}

// meeting says that on `pixels` pixels of the stack (a mean) a sensor pixel
// falls in so many subs each.
type meeting struct {
	subs   int
	pixels float64
}

func still(n int) layout { return layout{n, 1, []meeting{{n, 1}}} }

func scattered(n int) layout { return layout{n, 1 / float64(n), []meeting{{1, float64(n)}}} }

// ditherMoves is the rms shift in px from which subs without places are taken
// to be scattered.
const ditherMoves = 1

// layoutOf n subs of which some have places on a sensor of width by height px.
// It is false when the places do not tell.
func layoutOf(n int, places []Place, width, height int) (layout, bool) {
	k := len(places)
	if k < 2 || n < 1 {
		return still(max(n, 1)), false
	}
	counts := map[int]float64{} // subs meeting: pixels
	for _, s := range spots {
		x, y := s[0]*float64(width), s[1]*float64(height)
		at := make([][2]float64, k)
		for i, p := range places {
			at[i] = [2]float64{p.A*x + p.B*y + p.C, p.D*x + p.E*y + p.F}
		}
		// Where the pixel grids' phases fall is chance: several are tried.
		for phase := range 4 {
			meet := map[[2]int]int{}
			for _, a := range at {
				px := int(math.Floor(a[0] - at[0][0] + 0.5 + 0.25*float64(phase%2) + 1e-9))
				py := int(math.Floor(a[1] - at[0][1] + 0.5 + 0.25*float64(phase/2) + 1e-9))
				meet[[2]int{px, py}]++
			}
			for _, c := range meet {
				counts[c] += 1 / float64(4*len(spots))
			}
		}
	}
	// Subs without a place move as the others do. In one order, for sums of the same last
	// digits in every run.
	l := layout{n: n}
	for _, c := range slices.Sorted(maps.Keys(counts)) {
		pixels := counts[c]
		// k subs shared pixels so; n subs meet in proportion.
		m := max(1, int(math.Round(float64(c)*float64(n)/float64(k))))
		if c == 1 {
			m = 1
		}
		p := pixels * float64(c) / float64(k) * float64(n) / float64(m)
		l.meeting = append(l.meeting, meeting{m, p})
		l.share += p * math.Pow(float64(m)/float64(n), 2)
	}
	l.share = min(1, l.share) // of subs that do not move it comes to 1 and a rounding
	return l, true
}

// layout of the subs of the stack as they were shot; without places by the
// dither's size, and still where neither is known: then known is false.
func (in Input) layout(n int) (l layout, known bool) {
	width, height := 3000, 2000 // matters for turned fields only
	for _, s := range in.Sets {
		if s.Group != nil && s.Group.Width > 0 {
			width, height = s.Group.Width, s.Group.Height
			break
		}
	}
	if l, ok := layoutOf(n, in.Places, width, height); ok {
		return l, true
	}
	switch {
	case in.DitherPx >= ditherMoves:
		return scattered(n), true
	default:
		return still(n), !math.IsNaN(in.DitherPx)
	}
}
