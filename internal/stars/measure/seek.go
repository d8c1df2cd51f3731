package measure

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
)

// A star that a sub does not show by itself still shines at its place, and what is not
// there tells as much. Where other subs show the stars, their places are known but for
// the shift of this one, and that is where all of them together are brightest: with a few
// dozen dithers to choose from, five standard errors together are no chance, though each
// star by itself is lost in the noise. The light of each is then the sum in an aperture
// less the level around it, found or not, with its noise.

// Sought is what shines in one picture where stars of others must be.
type Sought struct {
	Found     bool      // whether they are there, at one shift and together
	DX, DY    float64   // px, of that from where they were expected
	Flux, Err []float64 // of each there, in an aperture; NaN where it lies outside the frame, or on pixels without a value
	Share     float64   // of the expected light of all that is there, or that some shift has at most
	Most      float64   // this and two standard errors more; NaN: unknown
}

const (
	soughtChance  = 1e-4 // probability that noise looks like them at some shift
	soughtBeside  = 2.0  // standard errors by which those besides the surest may be less sure than all, so that no other star is taken for it
	soughtAlone   = 6.0  // (standard errors)² by which the shift is better than any other
	soughtKnown   = 0.1  // of its expected light, by which every star's may be off: no star decides alone
	soughtTwice   = 1.3  // of its expected light, more than which speaks for no star
	soughtInside  = 0.5  // of what all stars together tell, that those inside the frame have to
	soughtPerFWHM = 1.0  // radius of an aperture
	ringFrom      = 2.0  // FWHM, and
	ringTo        = 4.0  // where the level around a star is taken
	ringBeside    = 3.0  // px beyond these
	soughtFinest  = 0.25 // px, to which the shift is told
)

// Seek measures the light of stars at known places of a picture of w x h pixels, up to
// reach px aside, all alike. Stars hold places and expected light; fwhm px is their width.
// data is changed as Measure does.
func (ms *Measurer) Seek(data []float32, w, h int, opt stars.Options, expected []stars.Star, fwhm float64, reach int) Sought {
	p := &ms.p
	p.W, p.H, p.R = w, h, data[:w*h]
	p.Green, p.Gain, p.Saturation = -1, opt.Gain, opt.Saturation
	if why := ms.subtract(opt); why.Code != "" || len(expected) == 0 {
		return Sought{Share: math.NaN(), Most: math.NaN()}
	}
	a := newAperture(p, soughtPerFWHM*fwhm)
	c := newChart(a, expected, reach)
	out := c.best()
	if !out.Found {
		return out
	}
	for _, st := range expected {
		x, y := st.X+out.DX, st.Y+out.DY
		flux := a.sum(x, y)
		if !math.IsNaN(flux) {
			flux -= p.Annulus(x, y, ringFrom*fwhm+ringBeside, ringTo*fwhm+2*ringBeside) * a.area()
		}
		out.Flux, out.Err = append(out.Flux, flux), append(out.Err, plane.WithPhotons(a.noiseAt(x, y), flux, p.Gain))
	}
	return out
}

// aperture sums light within a radius, its rim weighted.
type aperture struct {
	p      *plane.Plane
	radius float64
	pixels []weighed // around the middle of a pixel
}

// weighed is a pixel, from the middle of an aperture, with its weight.
type weighed struct {
	dx, dy int
	weight float64
}

func newAperture(p *plane.Plane, radius float64) aperture {
	a := aperture{p: p, radius: radius}
	a.each(0, 0, func(x, y int, weight float64) { a.pixels = append(a.pixels, weighed{x, y, weight}) })
	return a
}

// each calls do with the pixels of the aperture around a point.
func (a aperture) each(x, y float64, do func(x, y int, weight float64)) {
	reach := a.radius + 0.5
	for j := int(math.Ceil(y - reach)); j <= int(math.Floor(y+reach)); j++ {
		for i := int(math.Ceil(x - reach)); i <= int(math.Floor(x+reach)); i++ {
			if inside := reach - math.Hypot(float64(i)-x, float64(j)-y); inside > 0 {
				do(i, j, min(inside, 1))
			}
		}
	}
}

func (a aperture) area() float64 { return math.Pi * a.radius * a.radius }

// noiseAt is that of a sum, with that of the level around; what a mosaic fills in tells
// nothing new.
func (a aperture) noiseAt(x, y float64) float64 {
	x, y = min(max(x, 0), float64(a.p.W-1)), min(max(y, 0), float64(a.p.H-1))
	return a.p.Mesh.NoiseAt(x, y) * math.Sqrt(a.area()/a.p.Density()*(1+1/(ringTo*ringTo)))
}

// lies tells whether the aperture around a point lies within the frame.
func (a aperture) lies(x, y float64) bool {
	reach := a.radius + 0.5
	return x >= reach && y >= reach && x+reach <= float64(a.p.W-1) && y+reach <= float64(a.p.H-1)
}

// sum is the light in the aperture around a point; NaN where it does not lie within the
// frame, or on a pixel that holds no light.
func (a aperture) sum(x, y float64) float64 {
	if !a.lies(x, y) {
		return math.NaN()
	}
	sum := 0.0
	a.each(x, y, func(i, j int, weight float64) { sum += weight * a.light(i, j) })
	return sum
}

// sumAt is sum around the middle of a pixel.
func (a aperture) sumAt(x, y int) float64 {
	if !a.lies(float64(x), float64(y)) {
		return math.NaN()
	}
	sum := 0.0
	for _, px := range a.pixels {
		sum += px.weight * a.light(x+px.dx, y+px.dy)
	}
	return sum
}

// light of a pixel; NaN where it holds none.
func (a aperture) light(x, y int) float64 {
	if i := y*a.p.W + x; !a.p.HasBad || !a.p.Bad.Get(i) {
		return float64(a.p.R[i])
	}
	return math.NaN()
}

// chart is the light of every star at every shift of whole pixels.
type chart struct {
	a        aperture
	expected []stars.Star
	variance []float64   // of each star's light
	at       [][]float64 // by star, then shift; NaN where it is unknown
	reach    int
}

func newChart(a aperture, expected []stars.Star, reach int) *chart {
	c := &chart{a: a, expected: expected, reach: reach}
	side := 2*reach + 1
	for _, st := range expected {
		noise := a.noiseAt(st.X, st.Y)
		c.variance = append(c.variance, noise*noise+soughtKnown*soughtKnown*st.Flux*st.Flux)
		light := make([]float64, side*side)
		for k := range light {
			light[k] = a.sumAt(int(math.Round(st.X))+k%side-reach, int(math.Round(st.Y))+k/side-reach)
		}
		c.at = append(c.at, light)
	}
	return c
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

// best is the shift at which most light of the stars is, if that is beyond chance.
func (c *chart) best() Sought {
	side := 2*c.reach + 1
	sure := make([]float64, side*side)
	top := 0
	for k := range sure {
		if _, sure[k] = c.together(-1, c.shifted(k)); sure[k] > sure[top] {
			top = k
		}
	}
	share, _ := c.together(-1, c.shifted(top))
	out := Sought{DX: float64(top%side - c.reach), DY: float64(top/side - c.reach), Share: share, Most: share * (1 + 2/sure[top])}
	_, besides := c.together(c.surest(top), c.shifted(top))
	least := c.beyondChance()
	out.Found = sure[top] > least && besides > least-soughtBeside && sure[top]*sure[top]-soughtAlone > c.rival(sure, top)
	if out.Found {
		c.refine(&out)
	}
	return out
}

// beyondChance is how sure the light has to be: shifts as far apart as an aperture is wide
// are as many trials.
func (c *chart) beyondChance() float64 {
	side := float64(2*c.reach + 1)
	trials := max(1, side*side/c.a.area())
	return math.Sqrt2 * math.Erfinv(1-2*soughtChance/trials)
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
	side, apart := 2*c.reach+1, 2*c.a.radius+1
	best := 0.0
	for k, s := range sure {
		if math.Hypot(float64(k%side-top%side), float64(k/side-top/side)) > apart {
			best = max(best, s)
		}
	}
	return best * best
}

// refine tells a shift to a fraction of a pixel.
func (c *chart) refine(out *Sought) {
	x0, y0, best := out.DX, out.DY, 0.0
	for dy := -1.0; dy <= 1; dy += soughtFinest {
		for dx := -1.0; dx <= 1; dx += soughtFinest {
			share, sure := c.together(-1, func(i int) float64 { return c.a.sum(c.expected[i].X+x0+dx, c.expected[i].Y+y0+dy) })
			if sure > best {
				best, out.DX, out.DY, out.Share = sure, x0+dx, y0+dy, share
			}
		}
	}
}
