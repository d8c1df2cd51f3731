package measure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// truth is a star that was drawn.
type truth struct{ x, y, snr float64 }

// gaussians adds stars of Gaussian profile.
func gaussians(s *simulated.Sim, list []truth, sky, fwhm float64) {
	for _, st := range list {
		s.Spot(st.x, st.y, s.Signal(st.snr, sky, simulated.PSF{Fwhm: fwhm}), fwhm)
	}
}

// crowd is a drawn field and what is known of it.
type crowd struct {
	list []truth
	fwhm float64
	f    *stars.Field

	drawn, seen places
}

// around lists the stars drawn within reach of a place, without number k, that
// have at least a share of its signal.
func (c *crowd) around(k int, reach, share float64) (out []int) {
	for _, i := range c.drawn.near(c.list[k].x, c.list[k].y, reach) {
		if i != k && c.list[i].snr > share*c.list[k].snr {
			out = append(out, i)
		}
	}
	return out
}

// places are points in order of x.
type places []place

type place struct {
	x, y float64
	i    int
}

func placesOf(n int, at func(i int) (x, y float64)) places {
	p := make(places, n)
	for i := range p {
		p[i].x, p[i].y = at(i)
		p[i].i = i
	}
	slices.SortFunc(p, func(a, b place) int { return cmp.Compare(a.x, b.x) })
	return p
}

// near lists the points within reach of a place.
func (p places) near(x, y, reach float64) (out []int) {
	first := sort.Search(len(p), func(i int) bool { return p[i].x > x-reach })
	for _, o := range p[first:] {
		if o.x >= x+reach {
			break
		}
		if math.Hypot(o.x-x, o.y-y) < reach {
			out = append(out, o.i)
		}
	}
	return out
}

// detections counts what was found within reach of a place, and how much of it
// is flagged as blended.
func (c *crowd) detections(x, y, reach float64) (n, blended int) {
	for _, i := range c.seen.near(x, y, reach) {
		n++
		if c.f.Stars[i].Blended {
			blended++
		}
	}
	return n, blended
}

// check holds a crowded field to its truth: its stars from a signal to noise of
// faintest on are counted, those well above kept are in the list.
func (c *crowd) check(t *testing.T, name string, faintest, kept float64) {
	t.Helper()
	c.drawn = placesOf(len(c.list), func(i int) (x, y float64) { return c.list[i].x, c.list[i].y })
	c.seen = placesOf(len(c.f.Stars), func(i int) (x, y float64) { return c.f.Stars[i].X, c.f.Stars[i].Y })
	var alone, found, flagged, pairs, told int
	for k, o := range c.list {
		if o.snr < 1.5*max(faintest, kept) || o.x < 5 || o.y < 5 || o.x > float64(c.f.Width-6) || o.y > float64(c.f.Height-6) {
			continue
		}
		near := c.around(k, 2.5*c.fwhm, 0.1)
		if len(near) == 0 {
			alone++
			n, b := c.detections(o.x, o.y, 1.5)
			found, flagged = found+n, flagged+b
		}
		if len(near) != 1 {
			continue
		}
		q := c.list[near[0]]
		// Pairs of up to 1 to 0.4 that are 0.8 to 1.3 FWHM apart, and their middle.
		if d := math.Hypot(o.x-q.x, o.y-q.y); q.snr > max(0.4*o.snr, 30) && q.snr < o.snr && d > 0.8*c.fwhm && d < 1.3*c.fwhm {
			pairs++
			if n, b := c.detections((o.x+q.x)/2, (o.y+q.y)/2, 1.2*c.fwhm); n > 1 || b > 0 {
				told++
			}
		}
	}
	strays := 0
	for i := range c.f.Stars {
		if st := &c.f.Stars[i]; len(c.drawn.near(st.X, st.Y, 2)) == 0 {
			strays++
		}
	}
	if found < alone*98/100 || flagged > 1+alone/50 || told < pairs || strays > 0 {
		t.Errorf("%s: of %d stars that stand alone %d found and %d flagged; of %d close pairs %d told; %d strays", name, alone, found, flagged, pairs, told, strays)
	}
	if !(math.Abs(c.f.FWHM.V/c.fwhm-1) < 0.02) || !(c.f.Ellipticity.V < 0.015) {
		t.Errorf("%s: FWHM %v, want %g; ellipticity %v", name, c.f.FWHM, c.fwhm, c.f.Ellipticity)
	}
	if len(c.f.Streaks) > 0 {
		t.Errorf("%s: %d tracks", name, len(c.f.Streaks))
	}
	// What can be parted under the filter, which makes images sqrt(2) times as
	// wide, has no brighter star within 1.7 FWHM. Some of it drowns in the light
	// of neighbours farther off.
	parted := 0
	for k, o := range c.list {
		inside := o.x > 0 && o.y > 0 && o.x < float64(c.f.Width-1) && o.y < float64(c.f.Height-1)
		if inside && o.snr > faintest && len(c.around(k, 1.7*c.fwhm, 1)) == 0 {
			parted++
		}
	}
	if share := float64(c.f.Count) / float64(parted); share < 0.85 || share > 1.02 {
		t.Errorf("%s: %d stars counted of %d that can be parted", name, c.f.Count, parted)
	}
}

// Twenty thousand stars on four million pixels.
func TestTwentyThousandStars(t *testing.T) {
	for seed, side := range []int{2000, 1000, 1000} { // as dense in all
		if testing.Short() && seed != 1 {
			continue
		}
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			s := simulated.NewSim(uint64(seed), side, side, 300)
			c := crowd{fwhm: 3}
			for range side * side / 200 {
				c.list = append(c.list, truth{s.Rng.Float64() * float64(side), s.Rng.Float64() * float64(side), 7 / math.Pow(1-s.Rng.Float64(), 0.8)})
			}
			gaussians(s, c.list, 300, c.fwhm)
			c.f = measureSim(t, s)
			c.check(t, fmt.Sprintf("seed %d", seed), 6, c.f.Stars[len(c.f.Stars)-1].SNR)
		})
	}
}

// The core of a cluster (Plummer 1911, MNRAS 71, 460) of 400 stars, half of them
// within 13 FWHM of its middle.
func TestClusterCore(t *testing.T) {
	for seed := range uint64(5) {
		const side = 400
		s := simulated.NewSim(seed, side, side, 300)
		c := crowd{fwhm: 3}
		for range 400 {
			// The share of stars within r is r²/(r²+a²).
			u := s.Rng.Float64()
			sin, cos := math.Sincos(s.Rng.Float64() * 2 * math.Pi)
			r := 40 * math.Sqrt(u/(1-u))
			c.list = append(c.list, truth{side/2 + r*cos, side/2 + r*sin, 10 / math.Pow(1-s.Rng.Float64(), 0.8)})
		}
		gaussians(s, c.list, 300, c.fwhm)
		c.f = measureSim(t, s)
		c.check(t, fmt.Sprintf("seed %d", seed), 10, 0)
	}
}

// Pairs among single stars, of like and of unlike brightness, from far closer than
// the search can part to where it does: parted or flagged. Half a FWHM apart, the
// fainter only makes the brighter one longer, as any star might be.
func TestPairs(t *testing.T) {
	q := simulated.PSF{Fwhm: 3.5, Beta: 3.5}
	for _, ratio := range []float64{1, 3} {
		if testing.Short() && ratio > 1 {
			break
		}
		for k, apart := range []float64{0.8, 1, 1.2, 1.4, 1.6, 1.8, 2.2} {
			s := simulated.NewSim(uint64(k), 600, 600, 300)
			var pairs, single [][2]float64
			for i, at := range s.Scatter(120, 36) {
				flux := s.Signal(120, 300, q)
				s.Star(at[0], at[1], flux, q)
				if i%6 > 0 {
					single = append(single, at)
					continue
				}
				sin, cos := math.Sincos(float64(i))
				s.Star(at[0]+apart*q.Fwhm*cos, at[1]+apart*q.Fwhm*sin, flux/ratio, q)
				pairs = append(pairs, at)
			}
			f := measureSim(t, s)
			neither, flagged := 0, 0
			for _, at := range pairs {
				n, blended := 0, false
				for i := range f.Stars {
					if st := &f.Stars[i]; math.Hypot(st.X-at[0], st.Y-at[1]) < 2.5*q.Fwhm {
						n++
						blended = blended || st.Blended
					}
				}
				if n < 2 && !blended {
					neither++
				}
			}
			for i := range f.Stars {
				st := &f.Stars[i]
				for _, at := range single {
					if st.Blended && math.Hypot(st.X-at[0], st.Y-at[1]) < 2 {
						flagged++
					}
				}
			}
			if neither > 1 || flagged > 1 {
				t.Errorf("1:%g, %.1f FWHM apart: %d of %d pairs neither parted nor flagged; %d of %d single stars flagged", ratio, apart, neither, len(pairs), flagged, len(single))
			}
		}
	}
}
