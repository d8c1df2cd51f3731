package measure

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Sought is what shines in one picture where stars of others must be.
type Sought struct {
	Found     bool        // whether they are there, at one shift and together
	DX, DY    float64     // px, of that from where they were expected
	Flux, Err []float64   // of each there, in an aperture; NaN where it lies outside the frame, or on pixels without a value
	Size      stats.Value // px, half-flux diameter of all together; N = stars
	Drawn     stars.Drawn // of all together
	Share     float64     // of the expected light of all that is there, or that some shift has at most
	Most      float64     // this and two standard errors more; NaN: unknown
	Rival     float64     // how sure it is at the best shift besides, over this one: diffuse light is nearly as much anywhere
}

const (
	soughtChance = 1e-4 // probability that noise looks like them at some shift
	soughtBeside = 2.0  // standard errors by which those besides the surest may be less sure than all, so that no other star is taken for it
	soughtAlone  = 6.0  // (standard errors)² by which the shift is better than any other
	soughtKnown  = 0.1  // of its expected light, by which every star's may be off: no star decides alone
	soughtTwice  = 1.3  // of its expected light, more than which speaks for no star
	soughtInside = 0.5  // of what all stars together tell, that those inside the frame have to
	soughtSteps  = 3    // in the radius of an aperture
	soughtFinest = 0.25 // of a step, to which the shift is told
	soughtShifts = 200  // shifts that tell how much the light differs from one to the other
)

// chart is the light of every star at every shift of whole pixels, of as many of these as
// the aperture tells apart.
type chart struct {
	a        aperture
	expected []stars.Star
	variance []float64   // of each star's light
	at       [][]float64 // by star, then shift; NaN where it is unknown
	reach    int         // steps
	step     int         // px
}

// soughtVariance is that of the light of a star at its place, by noise and by what it may be off.
func soughtVariance(noise, flux float64) float64 {
	return noise*noise + soughtKnown*soughtKnown*flux*flux
}

func newChart(a aperture, expected []stars.Star, reach int) *chart {
	c := &chart{a: a, expected: expected, step: max(1, int(a.radius/soughtSteps))}
	c.reach = reach / c.step
	side := c.side()
	for _, st := range expected {
		noise := math.Hypot(a.noise(st.X, st.Y))
		c.variance = append(c.variance, soughtVariance(noise, st.Flux))
		light := make([]float64, side*side)
		for k := range light {
			dx, dy := c.shift(k)
			light[k] = a.sumAt(int(math.Round(st.X)+dx), int(math.Round(st.Y)+dy))
		}
		c.at = append(c.at, light)
	}
	return c
}

// side is how many shifts there are along each.
func (c *chart) side() int { return 2*c.reach + 1 }

// shift of a number, px.
func (c *chart) shift(k int) (dx, dy float64) {
	return float64((k%c.side() - c.reach) * c.step), float64((k/c.side() - c.reach) * c.step)
}

// together weighs the light of some stars against what is expected of them, but for one
// (-1: none): the share that is there, and by how many standard errors that is more than
// nothing. Those of unknown light tell nothing; all are too few where they would tell little.
func (c *chart) together(but int, light func(i int) float64) (share, sure float64) {
	var got, full, all float64
	for i := range c.expected {
		f := c.expected[i].Flux
		weight := f / c.variance[i]
		all += f * weight
		if v := light(i); i != but && !math.IsNaN(v) {
			got += weight * min(v, soughtTwice*f+3*math.Sqrt(c.variance[i]))
			full += f * weight
		}
	}
	if but < 0 && full < soughtInside*all || !(full > 0) {
		return 0, 0
	}
	return got / full, got / math.Sqrt(full)
}

// best is the shift at which most light of the stars is, if that is beyond chance, of all
// and besides the surest.
func (c *chart) best() Sought {
	sure := make([]float64, c.side()*c.side())
	top := 0
	for k := range sure {
		_, all := c.together(-1, c.shifted(k))
		_, besides := c.together(c.surest(k), c.shifted(k))
		if sure[k] = min(all, besides+soughtBeside); sure[k] > sure[top] {
			top = k
		}
	}
	share, all := c.together(-1, c.shifted(top))
	out := Sought{Share: share, Most: share * (1 + 2/all)}
	out.DX, out.DY = c.shift(top)
	unit, rival := c.scatter(sure), c.rival(sure, top)
	out.Rival = math.Sqrt(rival) / sure[top]
	out.Found = sure[top] > unit*c.beyondChance() && sure[top]*sure[top]-unit*unit*soughtAlone > rival
	if out.Found {
		c.refine(&out)
	}
	return out
}

// beyondChance is how sure the light has to be: shifts as far apart as an aperture is wide
// are as many trials.
func (c *chart) beyondChance() float64 {
	side := float64(c.side() * c.step)
	trials := max(1, side*side/c.a.area())
	return math.Sqrt2 * math.Erfinv(1-2*soughtChance/trials)
}

// scatter is the standard error of how sure the light is at a shift: as much as it differs
// from shift to shift, where there are enough of them, in wide apertures, in which more than
// noise does, nebulae and faint stars.
func (c *chart) scatter(sure []float64) float64 {
	if c.step == 1 || len(sure) < soughtShifts {
		return 1
	}
	return max(1, stats.MADSigma(sure))
}

// shifted is the light of each star at one shift.
func (c *chart) shifted(k int) func(i int) float64 {
	return func(i int) float64 { return c.at[i][k] }
}

// surest is the star that tells most at a shift.
func (c *chart) surest(k int) int {
	lead, most := 0, math.Inf(-1)
	for i := range c.expected {
		if v := c.at[i][k] * c.expected[i].Flux / c.variance[i]; v > most {
			lead, most = i, v
		}
	}
	return lead
}

// rival is the square of how sure the light is at the best shift that is another one.
func (c *chart) rival(sure []float64, top int) float64 {
	apart, best := 2*c.a.radius+1, 0.0
	x, y := c.shift(top)
	for k, s := range sure {
		if dx, dy := c.shift(k); math.Hypot(dx-x, dy-y) > apart {
			best = max(best, s)
		}
	}
	return best * best
}

// refine tells a shift to a fraction of a step.
func (c *chart) refine(out *Sought) {
	x0, y0, best, step := out.DX, out.DY, 0.0, float64(c.step)
	for dy := -step; dy <= step; dy += soughtFinest * step {
		for dx := -step; dx <= step; dx += soughtFinest * step {
			share, sure := c.together(-1, func(i int) float64 { return c.a.sum(c.expected[i].X+x0+dx, c.expected[i].Y+y0+dy) })
			if sure > best {
				best, out.DX, out.DY, out.Share = sure, x0+dx, y0+dy, share
			}
		}
	}
}
