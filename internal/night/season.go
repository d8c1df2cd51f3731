package night

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math"
	"runtime"
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/parallel"
	"fitsqa/internal/plate"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/tie"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Season is what is known of other nights: the scale that all nights share.
type Season struct {
	References []Reference
	Setups     []Setup
}

// View is what must be the same for two nights' light to be compared star by star.
type View struct {
	Target, Filter names.Key
	Optics         string // camera, binning and scale; and the gain setting while light is in ADU
}

// Reference is the light of a target's stars in the night that was recorded first, and
// the best that any night has made of it. Level and Depth are NaN when no night has
// figures.
type Reference struct {
	View
	Night         string // date of the evening
	Width, Height int    // px
	Stars         []ReferenceStar

	Level      float64 // light of the clearest night's stars over these
	Depth      float64 // of the best night: signal to noise squared a second, for light of this reference
	DepthNight string  // the best one
	FWHM       float64 // arcsec, lower quartile over the kept subs of all nights
	Noise      float64 // e-² a second and square arcsec, likewise
	Subs       int     // behind FWHM
}

// ReferenceStar is one star of a reference.
type ReferenceStar struct {
	X, Y      float64 // px
	Flux      float64 // e-/s, ADU/s while the gain is not known
	Saturated bool    // helps to recognise the field, and gives no light to compare
}

// Setup is the best that a camera and telescope have shown through a filter, on
// whatever target, by the catalogue's magnitudes.
type Setup struct {
	Filter names.Key
	Optics string
	Zero   float64 // zero point of the clearest night at airmass 1, mag
	Night  string
}

// Merit of one night's group on the scale of its reference.
type Merit struct {
	View
	Level float64 // light over the reference's; NaN when the fields could not be tied
	Depth float64 // see Reference
	Could float64 // the depth that a target's first night would have had in the clearest air that is known of the set-up; Depth where none is clearer
	Zero  float64 // zero point of a clear sub at airmass 1, mag

	LevelErr, ZeroErr float64 // 1 sigma
}

// mostStars of a reference: as many as tie a field surely and measure its light to some
// thousandths.
const mostStars = 500

// compareWithSeason puts every group on the scale of its season.
func (r *Result) compareWithSeason(known *memory) {
	for _, same := range partition(measured(r.Subs), viewOf) {
		r.measureSky(same)
	}
	r.Merits = map[int]Merit{}
	of := map[*subs.Sub]*Sub{}
	for _, s := range r.Subs {
		of[s.Sub] = s
	}
	for _, g := range r.Verdicts.Groups {
		var all []*Sub
		for _, s := range g.Subs {
			if s.Field != nil {
				all = append(all, of[s])
			}
		}
		r.compareGroup(g, all, known)
	}
	r.rescaleEarlier()
}

// compareGroup puts one group and its subs on the scale of its season.
func (r *Result) compareGroup(g *subs.Group, all []*Sub, known *memory) {
	r.scaleGroup(g, all, known)
	for _, s := range all {
		s.onSeason(g)
	}
}

// scaleGroup finds what the season is to a group.
func (r *Result) scaleGroup(g *subs.Group, all []*Sub, known *memory) {
	g.Season = subs.NoSeason("no sub of the group has a weight")
	best := clearest(all)
	if len(best) == 0 || !(g.Merit > 0) {
		if len(all) > 0 { // width needs no weight
			ref, _ := r.reference(viewOf(all[0]))
			bestOf(&g.Season, ref)
		}
		return
	}
	view := viewOf(best[0])
	ref, ok := r.reference(view)
	if !ok {
		ref = newReference(view, best[0], r.nightOf(best[0]))
		r.References = append(r.References, ref)
	}
	g.Season.Level, g.Season.Reference = known.level(ref, best), ref.name()
	g.Season.ZeroPoint = r.zenithZero(best)
	depthOf(&g.Season, all)
	setup := r.Settings.Season.setup(view)
	g.Season.Throughput = throughput(g.Season.ZeroPoint, setup)
	gain := best[0].ElectronsPerADU
	if !(gain > 0) {
		gain = 1
	}
	level := g.Season.Level.V
	m := Merit{View: view, Level: level, Zero: g.Season.ZeroPoint.V, Depth: g.Merit / (gain * gain) * level * level,
		LevelErr: g.Season.Level.Err, ZeroErr: g.Season.ZeroPoint.Err}
	m.Could = m.Depth
	// Of the target's first night only: the others are held against that one, and the
	// largest of many such estimates would be too large.
	if t := g.Season.Throughput; poorAir(t) && ref.Night == r.nightOf(best[0]) {
		m.Could /= t.V * t.V
	}
	r.Merits[g.Stack] = m
	share(g, ref, m, setup)
	if g.Season.SoftNight() && !slices.Contains(g.Poor, subs.Soft) {
		g.Poor = append(g.Poor, subs.Soft)
	}
}

// viewOf is what a sub's light can be compared under. The scale is the header's, which
// does not change in its last digits from night to night as a measured one does.
func viewOf(s *Sub) View {
	optics := fmt.Sprintf("%s, binning %d", s.Camera.Key(), s.Binning)
	if s.PixelScale > 0 {
		optics += fmt.Sprintf(", %.3g arcsec/px", s.PixelScale)
	}
	if !(s.ElectronsPerADU > 0) {
		optics += fmt.Sprintf(", ADU at gain %g", s.GainSetting)
	}
	return View{s.Target.Key(), s.Filter.Key(), optics}
}

// clearest are the usable subs of most weight, at most five.
func clearest(all []*Sub) []*Sub {
	best := slices.DeleteFunc(slices.Clone(all), func(s *Sub) bool {
		return !s.Verdict.Usable() || !s.Weight.OK() || !(s.Transparency.Ratio.V > 0.2) || s.DuplicateOf != "" || !(s.Exposure > 0)
	})
	slices.SortStableFunc(best, func(a, b *Sub) int { return cmp.Compare(b.Weight.V, a.Weight.V) })
	return best[:min(len(best), 5)]
}

// reference finds what is known of a view, from other nights or another group of this.
func (r *Result) reference(v View) (Reference, bool) {
	for _, list := range [][]Reference{r.Settings.Season.References, r.References} {
		for _, ref := range list {
			if ref.View == v {
				return ref, true
			}
		}
	}
	return Reference{}, false
}

func (s Season) setup(v View) *Setup {
	for i := range s.Setups {
		if s.Setups[i].Filter == v.Filter && s.Setups[i].Optics == v.Optics {
			return &s.Setups[i]
		}
	}
	return nil
}

// name is a reference's own: two levels can be set against each other where it is one.
// Checked without a ledger, every night makes its own of its own stars.
func (r *Reference) name() string {
	sum := fnv.New32a()
	for _, s := range r.Stars {
		fmt.Fprintf(sum, "%.2f %.2f %.4g ", s.X, s.Y, s.Flux)
	}
	return fmt.Sprintf("%s, %08x", r.Night, sum.Sum32())
}

// newReference is a night's light as the first of its season: what its clear sky gives.
func newReference(v View, s *Sub, night string) Reference {
	nan := math.NaN()
	ref := Reference{View: v, Night: night, Width: s.Width, Height: s.Height, Level: nan, Depth: nan, FWHM: nan, Noise: nan}
	rate := s.lightRate() / s.Transparency.Ratio.V
	for i := range s.Field.Stars {
		st := &s.Field.Stars[i]
		if len(ref.Stars) == mostStars {
			break
		}
		if st.Flux > 0 {
			ref.Stars = append(ref.Stars, ReferenceStar{st.X, st.Y, st.Flux * rate, st.Saturated || st.Blended || st.SNR < surelyMeasured})
		}
	}
	return ref
}

// surelyMeasured is the significance of stars whose light is compared: nearer to the
// threshold only upward fluctuations are found (Eddington 1913, MNRAS 73, 359).
const surelyMeasured = 15

// levelOf is the light of this night's clear sky over the reference's: the median over
// the best subs of the median over stars.
func levelOf(ref Reference, best []*Sub) stats.Value {
	field := &stars.Field{Width: ref.Width, Height: ref.Height, Count: len(ref.Stars)}
	for _, s := range ref.Stars {
		field.Stars = append(field.Stars, stars.Star{X: s.X, Y: s.Y, Flux: s.Flux, Saturated: s.Saturated})
	}
	var levels []float64
	n, err := 0, 0.0
	lists := make([][]float64, len(best))
	parallel.Items(len(best), runtime.GOMAXPROCS(0), func(i int) { lists[i] = ratiosTo(field, best[i]) })
	for i, s := range best {
		ratios := lists[i]
		if len(ratios) < 4 {
			continue
		}
		levels = append(levels, stats.Median(ratios)/s.Transparency.Ratio.V)
		n = max(n, len(ratios))
		err = math.Max(err, 1.2533*stats.MADSigma(ratios)/math.Sqrt(float64(len(ratios)))/s.Transparency.Ratio.V)
	}
	if len(levels) == 0 {
		return stats.Missing("its stars do not match those of the season's reference")
	}
	return stats.Known(stats.Median(levels), err, n)
}

// ratiosTo are a sub's rates of light over a reference's, star by star.
func ratiosTo(ref *stars.Field, s *Sub) []float64 {
	al, first := tie.Align([]*stars.Field{ref, s.Field})
	tied := al[1-first]
	if !tied.Matched() {
		return nil
	}
	rate := s.lightRate()
	var ratios []float64
	for _, p := range tied.Pairs {
		here, there := p[0], p[1]
		if first == 1 {
			here, there = there, here
		}
		a, b := &s.Field.Stars[here], &ref.Stars[there]
		if !a.Saturated && !b.Saturated && !a.Blended && a.SNR >= surelyMeasured/3 && a.Flux > 0 {
			ratios = append(ratios, a.Flux*rate/b.Flux)
		}
	}
	return ratios
}

// clearZero is the zero point of clear sky, by the subs that have one.
func clearZero(all []*Sub) stats.Value {
	var zero, errs []float64
	for _, s := range all {
		if t := s.Transparency.Ratio; s.ZeroPoint.OK() && t.V > 0.5 {
			zero = append(zero, s.ZeroPoint.V-2.5*math.Log10(t.V))
			errs = append(errs, s.ZeroPoint.Err)
		}
	}
	if len(zero) == 0 {
		return stats.Missing(firstWhy(all, func(s *Sub) stats.Value { return s.ZeroPoint }))
	}
	// The same stars with the same colours are behind all: their number helps little.
	return stats.Known(stats.Median(zero), stats.Median(errs), len(zero))
}

// usualExtinction is what an airmass takes where the night does not tell, mag, and by how
// much nights and filters differ in it: 0.2 of clean low air through broad filters, half
// of it in the red, twice in the blue (Hayes and Latham 1975, from memory).
const usualExtinction, extinctionSpread = 0.2, 0.1

// zenithZero is clearZero at airmass 1, so that nights do not seem clearer where the
// target stood higher: the zero point of clear sky is that of where the clearest subs
// stood. Where no airmass is known it stays what it is.
func (r *Result) zenithZero(all []*Sub) stats.Value {
	zero := clearZero(all)
	best := 0.0
	for _, s := range all {
		best = math.Max(best, nothing(s.Transparency.Ratio.V))
	}
	airmass := math.Inf(1)
	for _, s := range all {
		if s.Transparency.Ratio.V >= 0.97*best && s.Sky.Airmass.OK() {
			airmass = math.Min(airmass, s.Sky.Airmass.V)
		}
	}
	if !zero.OK() || math.IsInf(airmass, 1) {
		return zero
	}
	k, more := r.extinctionOf(all[0]), airmass-1
	return stats.Known(zero.V+k.V*more, math.Hypot(zero.Err, nothing(k.Err)*more), zero.N)
}

// extinctionOf is what an airmass took in a sub's night through its filter, else usually
// takes, mag.
func (r *Result) extinctionOf(s *Sub) stats.Value {
	date := r.nightOf(s)
	for _, e := range r.Extinctions {
		if e.K.OK() && e.K.V > 0 && e.K.Err < extinctionSpread && e.Target == s.Target && e.Filter == s.Filter && e.Camera == s.Camera && (e.Night == date || e.Night == "") {
			return e.K
		}
	}
	return stats.Known(usualExtinction, extinctionSpread, 0)
}

func throughput(zero stats.Value, best *Setup) stats.Value {
	switch {
	case !zero.OK():
		return stats.Missing(zero.Why)
	case best == nil:
		return stats.Missing("no other night of this set-up has a zero point")
	}
	t := math.Pow(10, 0.4*(zero.V-best.Zero))
	return stats.Known(t, t*zero.Err/1.0857*math.Sqrt2, zero.N)
}

// depthOf fills in how deep the group's stack goes and what its sky was.
func depthOf(season *subs.Season, all []*Sub) {
	var mags, fwhm, noise []float64
	var limit, surface float64
	err, n := 0.0, 0
	for _, s := range all {
		if !s.Verdict.Usable() || s.DuplicateOf != "" {
			continue
		}
		if s.Field.FWHM.OK() && s.PixelScale > 0 {
			fwhm = append(fwhm, s.Field.FWHM.V*s.PixelScale)
		}
		if n := s.NoiseRate(); n.OK() {
			noise = append(noise, n.V)
		}
		if s.SkyMag.OK() {
			mags = append(mags, s.SkyMag.V)
		}
		if s.LimitingMag.OK() {
			// Signal to noise squared adds up.
			limit += math.Pow(10, 0.8*s.LimitingMag.V)
			surface += math.Pow(10, 0.8*plate.SurfaceLimit(s.ZeroPoint, s.RandomNoise.V*s.lightRate(), s.Plate.Scale).V)
			err, n = math.Max(err, s.LimitingMag.Err), n+1
		}
	}
	if len(fwhm) > 0 {
		season.FWHM = stats.Known(stats.Median(fwhm), stats.MADSigma(fwhm)/math.Sqrt(float64(len(fwhm))), len(fwhm))
	}
	season.Noise = stats.Missing("noise in electrons or the pixel scale is unknown")
	if len(noise) > 0 {
		season.Noise = stats.Known(stats.Median(noise), stats.MADSigma(noise)/math.Sqrt(float64(len(noise))), len(noise))
	}
	if len(mags) > 0 {
		season.SkyMag = stats.Known(stats.Median(mags), err, len(mags))
	} else {
		season.SkyMag = stats.Missing(firstWhy(all, func(s *Sub) stats.Value { return s.SkyMag }))
	}
	if n > 0 {
		season.Limit, season.Surface = stats.Known(1.25*math.Log10(limit), err, n), stats.Known(1.25*math.Log10(surface), err, n)
	} else {
		why := firstWhy(all, func(s *Sub) stats.Value { return s.LimitingMag })
		season.Limit, season.Surface = stats.Missing(why), stats.Missing(why)
	}
}

func firstWhy(all []*Sub, of func(*Sub) stats.Value) string {
	for _, s := range all {
		if v := of(s); v.Why != "" {
			return v.Why
		}
	}
	return "not measured"
}

// poorAir tells that air and optics surely passed less than on the set-up's best night.
func poorAir(t stats.Value) bool { return t.OK() && t.V+2*t.Err < 0.9 }

// share sets a group against the best night of its season. A target that no other night
// is known of goes by the clearest air that the set-up ever had, on whatever target:
// signal to noise squared falls with the square of the light, the sky's light staying.
func share(g *subs.Group, ref Reference, m Merit, setup *Setup) {
	season := &g.Season
	bestOf(season, ref)
	if !season.Level.OK() {
		season.Light = stats.Missing(season.Level.Why)
		season.Share, season.Clear = stats.Missing(season.Level.Why), stats.Missing(season.Level.Why)
		return
	}
	season.Light = season.Level.Scaled(1 / math.Max(season.Level.V, nothing(ref.Level)))
	of := 1.0
	if ref.Depth > m.Depth {
		of, season.Best = m.Depth/ref.Depth, ref.DepthNight
	}
	err := 2 * of * season.Level.Err / season.Level.V
	if t := season.Throughput; !(ref.Depth > 0) && m.Could > m.Depth {
		season.Light, season.Best = t, setup.Night
		of, err = m.Depth/m.Could, 2*t.V*t.Err
	}
	season.Share = stats.Known(of, err, season.Level.N)
	season.Clear = stats.Missing("no sub has a weight")
	if !math.IsNaN(g.EquivalentClearSeconds) {
		season.Clear = season.Share.Scaled(g.EquivalentClearSeconds)
	}
}

// bestOf takes over how sharp and quiet the season's best subs were.
func bestOf(season *subs.Season, ref Reference) {
	none := stats.Missing("no other night of this target is known")
	season.BestFWHM, season.BestNoise = none, none
	if ref.Subs >= 5 {
		season.BestFWHM = stats.Known(ref.FWHM, math.NaN(), ref.Subs)
		if ref.Noise > 0 {
			season.BestNoise = stats.Known(ref.Noise, math.NaN(), ref.Subs)
		}
	}
}

// nothing is 0 for what is not known.
func nothing(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// onSeason puts a sub on the scale of its season.
func (s *Sub) onSeason(g *subs.Group) {
	switch light := g.Season.Light; {
	case !s.Transparency.Ratio.OK():
		s.SeasonTransparency = stats.Missing(s.Transparency.Ratio.Why)
	case !light.OK():
		s.SeasonTransparency = stats.Missing(light.Why)
	default:
		s.SeasonTransparency = s.Transparency.Ratio.Scaled(light.V)
	}
	s.SeasonFWHM = s.widthOnSeason(g.Season.BestFWHM)
	if share := g.Season.Share; share.OK() {
		s.SeasonShare = share.V
		s.SeasonalWeight = s.Weight.Scaled(share.V)
	} else {
		s.SeasonalWeight = stats.Missing(share.Why)
	}
	if subs.SoftBeside(s.SeasonFWHM) && !g.Season.SoftNight() { // else all are, which is told once
		// No verdict: seeing may have been no better, and a soft sub adds its light.
		s.Remarks = append(s.Remarks, fact.Of(subs.WideBesideSeason, fact.Number("times", s.SeasonFWHM.V),
			fact.Number("fwhm_arcsec", s.Field.FWHM.V*s.PixelScale), fact.Number("season_arcsec", g.Season.BestFWHM.V)))
	}
}

// widthOnSeason is a sub's FWHM over that of the season's sharpest quarter: both in
// arcsec, of the same optics and filter.
func (s *Sub) widthOnSeason(best stats.Value) stats.Value {
	switch fwhm := s.Field.FWHM; {
	case !best.OK():
		return stats.Missing(best.Why)
	case !fwhm.OK():
		return stats.Missing(fwhm.Why)
	case !(s.PixelScale > 0):
		return stats.Missing("the pixel scale is unknown")
	default:
		return fwhm.Scaled(s.PixelScale / best.V)
	}
}

// rescaleEarlier takes off the other nights' clear time what this night's being better
// than all of them makes them worth less.
func (r *Result) rescaleEarlier() {
	r.Settings.Earlier = slices.Clone(r.Settings.Earlier)
	for _, m := range r.Merits {
		ref, ok := r.reference(m.View)
		if !ok || !(m.Depth > ref.Depth) {
			continue
		}
		for i := range r.Settings.Earlier {
			e := &r.Settings.Earlier[i]
			if e.Target.Key() == m.Target && e.Filter.Key() == m.Filter {
				e.ClearSeconds *= ref.Depth / m.Depth
			}
		}
	}
}

// nightOf is the date of the evening of a sub's night.
func (r *Result) nightOf(s *Sub) string {
	var times []time.Time
	for _, other := range r.Subs {
		times = append(times, other.Start)
	}
	return sky.NewCalendar(r.SiteOf(s.Frame), times).Date(s.Start)
}

// seasonWarnings tell where air and optics passed less than on the set-up's best night.
func (r *Result) seasonWarnings() []fact.Fact {
	var list []fact.Fact
	for _, g := range r.Verdicts.Groups {
		name := frames.Printable(string(g.Target)) + " " + frames.Printable(string(g.Filter))
		season := &g.Season
		if t := season.Throughput; poorAir(t) {
			list = append(list, fact.Of(AirPoor, fact.Text("group", name), fact.Number("share", t.V)))
		}
	}
	return list
}
