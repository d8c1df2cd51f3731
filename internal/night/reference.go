package night

import (
	"fmt"
	"hash/fnv"
	"math"
	"runtime"

	"fitsqa/internal/cache"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

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

// mostStars of a reference: as many as tie a field surely and measure its light to some
// thousandths.
const mostStars = 500

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

// level recalls a night's light over that of a reference, or finds it out and
// remembers.
func (m *memory) level(ref Reference, best []*Sub) stats.Value {
	key, ok := m.levelKey(ref, best)
	if !ok {
		return levelOf(ref, best)
	}
	var level stats.Value
	if !m.store.Get(key, &level) {
		level = levelOf(ref, best)
		_ = m.store.Put(key, level) // as above
	}
	return level
}

// levelKey stands for a reference's stars, and the stars and light of subs; false when
// one of these is not remembered itself.
func (m *memory) levelKey(ref Reference, best []*Sub) (cache.Key, bool) {
	if m == nil {
		return cache.Key{}, false
	}
	k := cache.NewKey("level").Add(ref.Width, ref.Height, ref.Stars)
	for _, s := range best {
		if s.key == (cache.Key{}) {
			return cache.Key{}, false
		}
		k.Add(s.key, s.fixed, s.moving, s.lightRate(), s.Transparency.Ratio.V)
	}
	return k.Key(), true
}

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
		err = math.Max(err, stats.MedianErr*stats.MADSigma(ratios)/math.Sqrt(float64(len(ratios)))/s.Transparency.Ratio.V)
	}
	if len(levels) == 0 {
		return stats.Missing(NotOfReference)
	}
	return stats.Known(stats.Median(levels), err, n)
}

// surelyMeasured is the significance of stars whose light is compared: nearer to the
// threshold only upward fluctuations are found (Eddington 1913, MNRAS 73, 359).
const surelyMeasured = 15

// ratiosTo are a sub's rates of light over a reference's, star by star.
func ratiosTo(ref *stars.Field, s *Sub) []float64 {
	al, first := registration.Align([]*stars.Field{ref, s.Field})
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
