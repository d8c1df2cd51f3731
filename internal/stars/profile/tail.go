package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// A guide star that is lost half-way leaves every star as sharp as ever with a tail to one
// side of it, of what came after: too faint and too long to draw its shape out, and no second
// image. Only a side that has light where its opposite has none tells, for all stars of the
// field alike: wings, halos and spikes have both sides, coma has another one in each corner.
const (
	tailStars   = 40   // the brightest that are looked at
	tailFewest  = 8    // of them that tell
	tailAxes    = 16   // directions that are asked, each with its opposite
	tailFine    = 0.25 // FWHM, at most, between the pixels that are summed
	tailHalf    = 1.0  // FWHM, half the width of what is summed
	tailFrom    = 2.0  // FWHM from the star, where it begins
	tailTo      = 6.0  // and ends while its direction is sought
	tailStep    = 2.0  // FWHM, of one sum along it
	tailLongest = 20   // FWHM
	tailSigma   = 6.0  // standard errors by which it stands out
	tailLeast   = 0.05 // real lenses show 0.01 to 0.03 in some subs and not in others
)

// Tail is such a tail as the second image that it is: its middle and its share of the light;
// its share is 0 where there is none.
func Tail(p *plane.Plane, list []stars.Star, fwhm float64) stars.Double {
	var some []*stars.Star
	for i := range list {
		if st := &list[i]; st.Fitted && !st.Saturated && !st.Blended && len(some) < tailStars {
			some = append(some, st)
		}
	}
	none := stars.Double{Share: stats.Known(0, 0, len(some))}
	if len(some) < tailFewest {
		return none
	}
	most, angle := stats.Value{}, 0.0
	for axis := range tailAxes {
		a := math.Pi * float64(axis) / tailAxes
		v := sided(p, some, fwhm, a, tailFrom, tailTo)
		if v.V < 0 { // it is on the other side
			a, v.V = a+math.Pi, -v.V
		}
		if v.V > most.V {
			most, angle = v, a
		}
	}
	if !(most.V > max(tailLeast, tailSigma*most.Err)) || !throughout(p, some, fwhm, angle, most.V) {
		return none
	}
	var sum, moment, variance float64
	for r := tailFrom; r < tailLongest; r += tailStep {
		v := sided(p, some, fwhm, angle, r, r+tailStep)
		if !(v.V > 2*v.Err) {
			break
		}
		sum, moment, variance = sum+v.V, moment+v.V*(r+tailStep/2)*fwhm, variance+v.Err*v.Err
	}
	share := sum / (1 + sum)
	return stars.Double{X: moment / sum * math.Cos(angle), Y: moment / sum * math.Sin(angle), Share: stats.Known(share, math.Sqrt(variance)*(1-share)*(1-share), len(some))}
}

// throughout tells whether each half of the field shows about as much of a tail.
func throughout(p *plane.Plane, some []*stars.Star, fwhm, angle, all float64) bool {
	for _, in := range []func(s *stars.Star) bool{
		func(s *stars.Star) bool { return 2*s.X < float64(p.W) },
		func(s *stars.Star) bool { return 2*s.X >= float64(p.W) },
		func(s *stars.Star) bool { return 2*s.Y < float64(p.H) },
		func(s *stars.Star) bool { return 2*s.Y >= float64(p.H) },
	} {
		var half []*stars.Star
		for _, s := range some {
			if in(s) {
				half = append(half, s)
			}
		}
		if v := sided(p, half, fwhm, angle, tailFrom, tailTo); !(v.V > all/2) {
			return false
		}
	}
	return true
}

// sided is by how much more light the stars have on one side than opposite to it, from so many
// FWHM to so many, over that in themselves: the middle star's, which no neighbour makes.
func sided(p *plane.Plane, some []*stars.Star, fwhm, angle, from, to float64) stats.Value {
	sin, cos := math.Sincos(angle)
	step := max(1, tailFine*fwhm)
	var shares []float64
	for _, s := range some {
		sum, ok := 0.0, true
		for along := from * fwhm; along < to*fwhm && ok; along += step {
			for across := -tailHalf * fwhm; across < tailHalf*fwhm; across += step {
				dx, dy := along*cos-across*sin, along*sin+across*cos
				here, there := 0.0, 0.0
				if here, ok = at(p, s.X+dx, s.Y+dy); !ok {
					break
				}
				if there, ok = at(p, s.X-dx, s.Y-dy); !ok {
					break
				}
				sum += here - there
			}
		}
		if ok {
			shares = append(shares, sum*step*step/s.Flux)
		}
	}
	if len(shares) < tailFewest/2 {
		return stats.Missing(stars.FewForDoubles)
	}
	return stats.MedianValue(shares, nil, nil, "")
}

// at is the residual at the pixel of a place, and whether that is in the frame.
func at(p *plane.Plane, x, y float64) (float64, bool) {
	i, j := int(math.Round(x)), int(math.Round(y))
	if i < 0 || j < 0 || i >= p.W || j >= p.H {
		return 0, false
	}
	return float64(p.R[j*p.W+i]), true
}
