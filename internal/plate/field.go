package plate

import (
	"math"
	"slices"

	"fitsqa/internal/catalogue"
	"fitsqa/internal/stars"
)

// field is a frame's stars as the search sees them: brightest first, none beside a
// brighter one, in buckets by place.
type field struct {
	width, height int
	places        []point
	star          []int // index in the field's list
	side          float64
	cols          int
	cells         [][]int32
}

// apart is the least distance of two stars of the frame that are looked at, px.
const apart = 8

// most is how many of the brightest stars are looked at: a catalogue with 70 stars a
// square degree has no use for more.
const most = 3000

func newField(f *stars.Field) *field {
	side := math.Max(16, math.Sqrt(float64(f.Width)*float64(f.Height)/most))
	fd := &field{width: f.Width, height: f.Height, side: side, cols: int(float64(f.Width)/side) + 1}
	fd.cells = make([][]int32, fd.cols*(int(float64(f.Height)/side)+1))
	for i := range f.Stars {
		s := &f.Stars[i]
		if len(fd.places) == most {
			break
		}
		if fd.nearest(s.X, s.Y, apart, len(fd.places)) < 0 {
			fd.add(point{s.X, s.Y}, i)
		}
	}
	return fd
}

func (f *field) add(p point, star int) {
	c := f.cell(p.x, p.y)
	if c < 0 {
		return
	}
	f.cells[c] = append(f.cells[c], int32(len(f.places)))
	f.places, f.star = append(f.places, p), append(f.star, star)
}

// cell is the bucket of a place, -1 outside the frame.
func (f *field) cell(x, y float64) int {
	i, j := int(x/f.side), int(y/f.side)
	if x < 0 || y < 0 || i >= f.cols || j >= len(f.cells)/f.cols {
		return -1
	}
	return j*f.cols + i
}

// nearest is the number of the star nearest to a place, among the brightest n and
// within reach px; -1 when there is none.
func (f *field) nearest(x, y, reach float64, n int) int {
	best, dist := -1, reach*reach
	i0, i1 := max(0, int((x-reach)/f.side)), min(f.cols-1, int((x+reach)/f.side))
	j0, j1 := max(0, int((y-reach)/f.side)), min(len(f.cells)/f.cols-1, int((y+reach)/f.side))
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			for _, k := range f.cells[j*f.cols+i] {
				if int(k) >= n {
					break // a bucket's stars are in the order of brightness
				}
				dx, dy := f.places[k].x-x, f.places[k].y-y
				if d := dx*dx + dy*dy; d <= dist {
					best, dist = int(k), d
				}
			}
		}
	}
	return best
}

func (f *field) diagonal() float64 { return math.Hypot(float64(f.width), float64(f.height)) }

// density of the brightest n stars, per square px.
func (f *field) density(n int) float64 {
	return float64(min(n, len(f.places))) / (float64(f.width) * float64(f.height))
}

type sky struct {
	at     []vector
	cat    []catalogue.Star
	rising []int32 // their numbers by height above the equator, and perhaps those of fainter ones; nil where not asked for
}

func newSky(list []catalogue.Star) *sky {
	s := &sky{cat: list, at: make([]vector, len(list))}
	for i, c := range list {
		s.at[i] = direction(c.RA, c.Dec)
	}
	return s
}

// rise orders them by height, to a thousandth of an arcsecond: numbers that hold height and
// place are sorted far quicker than places by what they stand for.
func (s *sky) rise() *sky {
	keys := make([]uint64, len(s.at))
	for i, v := range s.at {
		keys[i] = uint64((v[2]+1)*(1<<30))<<32 | uint64(i)
	}
	slices.Sort(keys)
	s.rising = make([]int32, len(keys))
	for k, key := range keys {
		s.rising[k] = int32(uint32(key))
	}
	return s
}

func (s *sky) downTo(limit float64) *sky {
	n, _ := slices.BinarySearchFunc(s.cat, limit, func(c catalogue.Star, limit float64) int {
		if c.Mag > limit {
			return 1
		}
		return -1
	})
	return &sky{at: s.at[:n], cat: s.cat[:n], rising: s.rising}
}

// catalogueOf is the catalogue around a proposed solution.
func (f *field) catalogueOf(s *Solution) *sky {
	return newSky(catalogue.Cone(s.RA, s.Dec, 0.55*f.diagonal()*scaleOf(s)/3600+0.02, faintest))
}

func scaleOf(s *Solution) float64 { return 3600 * math.Sqrt(math.Abs(s.m[0]*s.m[3]-s.m[1]*s.m[2])) }

// faintest magnitude that is of any use: below, the catalogue has next to none.
const faintest = 13

// shown are the catalogue stars that fall into the frame, the brightest first and so many
// at most, with their places in it.
func (f *field) shown(s *Solution, near *sky, most int) (index []int, places []point) {
	middle := direction(s.RA, s.Dec)
	// What is farther from the middle than the corners cannot be shown.
	limit := math.Cos(math.Min(89, 0.56*f.diagonal()*scaleOf(s)/3600+0.02) * rad)
	for i, v := range near.at {
		if len(index) == most {
			break
		}
		if v.dot(middle) < limit {
			continue
		}
		if x, y, ok := s.pixel(v, middle); ok && s.inside(x, y) {
			index, places = append(index, i), append(places, point{x, y})
		}
	}
	return index, places
}

// logPoissonTail is log10 of the probability of k or more events where lambda are
// expected; for k well above lambda, where it matters, to some percent of itself.
func logPoissonTail(k int, lambda float64) float64 {
	if k <= 0 || lambda <= 0 || float64(k) <= lambda {
		if k > 0 && lambda <= 0 {
			return math.Inf(-1)
		}
		return 0
	}
	lg, _ := math.Lgamma(float64(k + 1))
	term := float64(k)*math.Log(lambda) - lambda - lg
	// The terms after the first fall at least by the ratio lambda/(k+1).
	return math.Min(0, (term-math.Log(1-lambda/float64(k+1)))/math.Ln10)
}
