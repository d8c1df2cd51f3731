package worth

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
)

// zone is where in the frame a glow is looked for.
type zone struct {
	at     fact.Code
	corner bool
	off    func(u, v float64) (x, y float64) // from its corner or edge, shares of the frame's sides
}

// zones are the corners and the edges; v runs up.
func zones() []zone {
	var all []zone
	for k, at := range []fact.Code{sensor.LowerLeft, sensor.LowerRight, sensor.UpperLeft, sensor.UpperRight} {
		all = append(all, zone{at, true, func(u, v float64) (x, y float64) {
			return math.Abs(u - float64(k%2)), math.Abs(v - float64(k/2))
		}})
	}
	for k, at := range []fact.Code{sensor.Left, sensor.Right} {
		all = append(all, zone{at, false, func(u, _ float64) (x, y float64) { return math.Abs(u - float64(k)), 0 }})
	}
	for k, at := range []fact.Code{sensor.Lower, sensor.Upper} {
		all = append(all, zone{at, false, func(_, v float64) (x, y float64) { return 0, math.Abs(v - float64(k)) }})
	}
	return all
}

// A zone is innerZone of the frame's sides deep; the sky beside it is compared with up to
// outerZone. glowScales are how broad glows are tried, shares of the frame's width (of
// their Gaussian's sigma).
const (
	innerZone = 0.125
	outerZone = 0.35
)

var glowScales = []float64{0.03, 0.05, 0.07, 0.1, 0.14}

// within are the cells that lie no deeper in a zone than a share of the frame's sides.
func (s *Seen) within(z zone, depth float64) (cells []int) {
	for c := range s.maps[0].levels {
		if x, y := z.off(s.share(c)); max(x, y) < depth {
			cells = append(cells, c)
		}
	}
	return cells
}
