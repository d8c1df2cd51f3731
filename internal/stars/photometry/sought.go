package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Light is what one field lets through of each of some stars, found in it or not:
// in units of the data, with its error; NaN where a star lies outside the field. Share is
// that of all together over what was expected. Without Flux they were not found, and Share
// is what that leaves at most.
type Light struct {
	Flux, Err []float64
	Share     float64
}

// found tells whether there is one, and the stars in it.
func (l *Light) found() bool { return l != nil && len(l.Flux) > 0 }

// Limits of what a few stars tell.
const (
	trueStar   = 5.0  // standard errors of its mean light over the fields, that a star has
	unlike     = 4.0  // of a star's light from what the field lets through of all
	surelyLit  = 3.0  // standard errors of the light that a star has, and of how many of them chance lights
	surelyDark = 4.0  // standard errors of the light that a star must have to be missing
	fewSought  = 2    // stars that tell a field's light
	believed   = 0.75 // of the stars, whose light is one that a field may let through, at least
	strayLight = 2.0  // times what sought stars show that another light is, which is no patch of cloud
	scaleTimes = 0.05 // of a star's light, that apertures on stars of changing width are off by
)

// seekers solves the light of stars and fields together: flux = star × field.
type seekers struct {
	light []*Light
	scale []float64
	star  []float64 // NaN: not one that moves with the others
	field []float64 // NaN: unknown
	known []float64 // of fields whose light is told, NaN of others
	from  int       // the field that showed the stars
}

// FromSought gives the fields their transparency whose stars are too few to tell it surely,
// from the light of stars at known places (nil: not sought, or not found), relative to that
// of the fields whose transparency is sure where there are some. What is covered by their
// sky, and what else their own stars tell, stays.
func FromSought(all []Transparency, fields []*stars.Field, light []*Light, scale []float64, from int) {
	s := newSeekers(all, light, scale)
	if s == nil {
		return
	}
	s.dropStrays()
	if s.from = from; !s.solve() {
		return
	}
	expected := s.expected()
	var told []int
	for j := range all {
		switch {
		case light[j] == nil || !math.IsNaN(s.known[j]):
		case !light[j].found():
			if !all[j].Ratio.OK() {
				all[j].AtMost = light[j].Share * expected
			}
		default:
			own := all[j]
			if own.Sure() { // a stray
				own.Ratio = stats.Missing(stars.LightsDisagree)
			}
			if t, ok := s.transparency(j, fields[j], own); ok && (j != from || t.Ratio.V < tooBright*s.brightest()) {
				all[j], told = t, append(told, j)
			}
		}
	}
	Normalise(all, fields)
	times := secondLight(fields)
	for _, j := range told {
		all[j].addSeconds(times[j])
	}
}

func newSeekers(all []Transparency, light []*Light, scale []float64) *seekers {
	s := &seekers{light: light, scale: scale}
	for j, l := range light {
		known := math.NaN()
		if l.found() && all[j].Sure() {
			known = all[j].Ratio.V
		}
		s.known = append(s.known, known)
		if l.found() && s.star == nil {
			s.star = make([]float64, len(l.Flux))
		}
	}
	if s.star == nil {
		return nil
	}
	s.field = slices.Clone(s.known)
	return s
}

// dropStrays takes the fields off those of known light whose stars, sought at their places,
// show another one beside the others: images that are no stars told it, knots that came out
// fainter in all of them.
func (s *seekers) dropStrays() {
	var over []float64
	for j, v := range s.known {
		if !math.IsNaN(v) {
			over = append(over, v/s.light[j].Share)
		}
	}
	usual := stats.Median(over)
	for j, v := range s.known {
		if math.IsNaN(v) {
			continue
		}
		if off := v / s.light[j].Share / usual; off > strayLight || off < 1/strayLight {
			s.known[j], s.field[j] = math.NaN(), math.NaN()
		}
	}
}

// of is a star's light in a field for the first field's exposure and gain.
func (s *seekers) of(j, i int) (flux, err float64) {
	return s.light[j].Flux[i] / s.scale[j], s.light[j].Err[i] / s.scale[j]
}

// solve alternates between stars and fields until these rest; false where no two stars
// move with the fields.
func (s *seekers) solve() bool {
	for j := range s.field {
		if s.light[j].found() && !(s.field[j] > 0) {
			s.field[j] = 1
		}
	}
	for range 20 {
		s.solveStars()
		if s.stars() < fewSought {
			return false
		}
		s.solveFields()
	}
	return true
}

func (s *seekers) stars() (n int) {
	for _, v := range s.star {
		if v > 0 {
			n++
		}
	}
	return n
}

// solveStars gives every star its mean light; none that is not surely there.
func (s *seekers) solveStars() {
	for i := range s.star {
		var sum, weight float64
		for j, l := range s.light {
			if j == s.from || !l.found() || !(s.field[j] > 0) {
				continue
			}
			if flux, err := s.of(j, i); !math.IsNaN(flux) {
				sum += s.field[j] * flux / (err * err)
				weight += s.field[j] * s.field[j] / (err * err)
			}
		}
		s.star[i] = math.NaN()
		if sum > trueStar*math.Sqrt(weight) {
			s.star[i] = sum / weight
		}
	}
}

// solveFields gives every field the share of the stars' light that it lets through, by the
// middle star, which no track or edge at a star's place moves; those that are known keep it.
func (s *seekers) solveFields() {
	for j, l := range s.light {
		if l.found() && math.IsNaN(s.known[j]) {
			shares, errs := s.shares(j)
			for i, e := range errs {
				errs[i] = 1 / (e * e)
			}
			s.field[j] = stats.WeightedMedian(shares, errs)
		}
	}
}

// brightest is what the clearest field lets through but that which showed the stars.
func (s *seekers) brightest() float64 {
	most := 0.0
	for j, v := range s.field {
		if j != s.from && v > most {
			most = v
		}
	}
	return most
}

// expected is what the fields let through over their shares of the expected light.
func (s *seekers) expected() float64 {
	var over []float64
	for j, l := range s.light {
		if l.found() && s.field[j] > 0 && l.Share > 0 {
			over = append(over, s.field[j]/l.Share)
		}
	}
	return stats.Median(over)
}

// shares are what a field lets through of each star, with their errors.
func (s *seekers) shares(j int) (share, err []float64) {
	for i, star := range s.star {
		if flux, e := s.of(j, i); star > 0 && !math.IsNaN(flux) {
			share, err = append(share, flux/star), append(err, math.Hypot(e/star, scaleTimes))
		}
	}
	return share, err
}

// credible are the shares that a field may let through: more than any field does, or surely less
// than none, is no light of the star, but a particle's track or a hot pixel at its place. None
// are where such are many: edges in the apertures.
func (s *seekers) credible(share, err []float64) (some, errs []float64) {
	most := tooBright * s.brightest()
	for i, v := range share {
		if v-unlike*err[i] < most && v+unlike*err[i] > 0 {
			some, errs = append(some, v), append(errs, err[i])
		}
	}
	if float64(len(some)) < believed*float64(len(share)) {
		return nil, nil
	}
	return some, errs
}

func weighted(x, err []float64) (mean, sigma float64) {
	var sum, weight float64
	for i := range x {
		sum += x[i] / (err[i] * err[i])
		weight += 1 / (err[i] * err[i])
	}
	return sum / weight, 1 / math.Sqrt(weight)
}

// transparency of one field, and what of it is covered, by what it lets through of stars.
func (s *seekers) transparency(j int, f *stars.Field, t Transparency) (Transparency, bool) {
	share, err := s.credible(s.shares(j))
	if len(share) < fewSought {
		return Transparency{}, false
	}
	ratio, sigma, covered := throughCover(share, err, t.Covered)
	sigma = math.Hypot(sigma, stars.Systematic*ratio)
	if sigma > looseRatio*s.brightest() { // it may as well be clear as dark
		return Transparency{}, false
	}
	if t.Ratio.OK() && t.Ratio.Err*ratio < sigma*t.Ratio.V { // as a share of it: too little light is less off than too much
		t.Covered = covered
		return t, true
	}
	if !t.Ratio.OK() || math.Abs(t.Ratio.V-ratio) > unlike*math.Hypot(t.Ratio.Err, sigma) {
		t.Unevenness = stats.Missing(stars.FewForParts)
	}
	t.Ratio, t.Covered = stats.Known(max(0, ratio), sigma, len(share)), covered
	t.Depth = evenly(t.Ratio.V, covered).depth(1, f)
	return t, true
}

// evenly is the light of a field that lets so much through, no part of it less than others
// as far as is known.
func evenly(ratio float64, covered stats.Value) *light {
	l := &light{covered: covered}
	dark := covered.Or(0)
	for range stars.Parts * stars.Parts {
		l.part = append(l.part, partLight{known: true, lost: dark, ratio: ratio / (1 - dark)})
	}
	return l
}

// throughCover is the light over a field by the shares of some stars, and what of it is
// covered. Where all stars agree that is their weighted mean. Where some are surely dark and
// the others agree, the dark ones' share of the field is covered, if its sky does not say
// better how much is: what is hidden lets nothing through, whether stars are found dark or
// not; but where missing images told it, more stars lit than chance leaves open show that
// nothing is. Else it is cloud in patches, and the mean of the stars with the error of their scatter.
func throughCover(share, err []float64, sky stats.Value) (ratio, sigma float64, covered stats.Value) {
	n := float64(len(share))
	shown := sky.N > 0 && len(share) >= dueFewest && float64(litStars(share, err)) > n*(1-sky.V)+surelyLit*math.Sqrt(n*sky.V*(1-sky.V))
	hidden := sky.V > 0 && !shown
	covered = sky
	if !hidden && !(sky.V == 0) && len(share) >= dueFewest {
		covered = stats.Known(0, math.Sqrt(lostLeast/n), len(share))
	}
	if ratio, sigma = weighted(share, err); agree(share, err, ratio) && !hidden {
		return ratio, sigma, covered
	}
	lit, litErr, dark := litOf(share, err)
	if !(lit > 0) {
		return stats.Mean(share), math.Sqrt(stats.Variance(share) / (n - 1)), covered
	}
	if !hidden {
		d := float64(dark) / n
		covered = stats.Known(d, math.Sqrt(d*(1-d)/n), len(share))
	}
	open := 1 - covered.V
	return lit * open, math.Hypot(litErr*open, lit*covered.KnownErr()), covered
}

// litStars is how many of some stars surely have light.
func litStars(share, err []float64) (n int) {
	for i := range share {
		if share[i] > surelyLit*err[i] {
			n++
		}
	}
	return n
}

// agree tells whether shares differ from one another by no more than their errors make.
func agree(share, err []float64, mean float64) bool {
	for i := range share {
		if math.Abs(share[i]-mean) > unlike*err[i] {
			return false
		}
	}
	return true
}

// litOf is what is let through where light arrives, and how many of the stars are dark;
// none where those with light do not agree, or one without might have some.
func litOf(share, err []float64) (lit, sigma float64, dark int) {
	var on, onErr []float64
	top := slices.Max(share)
	for i, v := range share {
		switch {
		case v-2*err[i] < noLight*top && top > surelyDark*err[i]:
			dark++
		default:
			on, onErr = append(on, v), append(onErr, err[i])
		}
	}
	lit, sigma = weighted(on, onErr)
	if !agree(on, onErr, lit) {
		return 0, 0, 0
	}
	return lit, sigma, dark
}
