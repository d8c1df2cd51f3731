package night

import (
	"math"
	"slices"

	"fitsqa/internal/cache"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
)

// align ties the subs of each target together, takes off their stars what stays
// at its pixels while the field moves, adds what looked like a hot pixel and moves
// with it, and compares their light group by group.
// Subs of different cameras or sizes are never compared.
func (r *Result) align(known *memory) {
	for _, same := range sameFields(r.Subs) {
		before := make([]stars.Field, len(same))
		for i, s := range same {
			before[i] = *s.Field
		}
		known.tie(same)
		if r.amongKnots(known, same, before) {
			known.tie(same)
		}
	}
}

// amongKnots measures those subs again that took knots of a galaxy or nebula for stars, where
// others of their target tell which are, and gives the others the stars that they had before they
// were tied; false where there are none.
func (r *Result) amongKnots(known *memory, same []*Sub, before []stars.Field) bool {
	places := registration.StarPlaces(fields(same), alignmentsOf(same))
	if !slices.ContainsFunc(places, func(p []stars.Place) bool { return p != nil }) {
		return false
	}
	parallel.Ranges(len(same), r.Settings.workersFor(r.Frames), func(_, from, to int) {
		b := new(buffers)
		for i, s := range same[from:to] {
			*s.Field, s.fixed, s.moving = before[from+i], nil, nil
			if places[from+i] != nil {
				opt := r.Settings.Stars
				opt.Stars = places[from+i]
				known.measure(s, s.applied, opt, b)
			}
		}
	})
	return true
}

// tieTogether aligns subs of one target and compares their light.
func tieTogether(same []*Sub) {
	all := fields(same)
	alignments, _ := registration.Align(all)
	if fixed := registration.FixedPoints(all, alignments); fixed != nil {
		for i, s := range same {
			s.fixed = fixed[i]
			figures.Without(s.Field, s.fixed)
		}
		alignments, _ = registration.Align(all)
	}
	if moving := registration.Moving(all); moving != nil {
		for i, s := range same {
			s.moving = moving[i]
			figures.With(s.Field, s.moving)
		}
		alignments, _ = registration.Align(all)
	}
	for i, s := range same {
		s.Align = alignments[i]
		s.Align.RotationDeg.V += 0 // the cache would turn a rotation of -0 into 0
	}
	// Different exposures and gains are scaled to the first sub's.
	for _, group := range ofOneLight(same) {
		scale := make([]float64, len(group))
		for i, s := range group {
			scale[i] = lightScale(s, group[0])
		}
		light := photometry.Transparencies(fields(group), alignmentsOf(group), scale)
		others := slices.DeleteFunc(slices.Clone(same), func(s *Sub) bool { return s.Filter == group[0].Filter })
		photometry.CoveredThroughout(light, fields(group), alignmentsOf(group), fields(others), alignmentsOf(others))
		for i, t := range light {
			group[i].Transparency = t
		}
	}
}

// alignmentsOf are how subs lie on their target's reference.
func alignmentsOf(all []*Sub) []registration.Alignment {
	al := make([]registration.Alignment, len(all))
	for i, s := range all {
		al[i] = s.Align
	}
	return al
}

// lightScale is how many times more ADU one photon rate gives in s than in
// first, as far as exposure and gain are known.
func lightScale(s, first *Sub) float64 {
	scale := s.Exposure / first.Exposure
	if !(scale > 0) || math.IsInf(scale, 0) {
		scale = 1
	}
	if gain := first.ElectronsPerADU / s.ElectronsPerADU; gain > 0 && !math.IsInf(gain, 0) {
		scale *= gain
	}
	return scale
}

// tie recalls how subs of one target are tied together, or finds it out and
// remembers.
func (m *memory) tie(same []*Sub) {
	key, ok := m.tieKey(same)
	if !ok {
		tieTogether(same)
		return
	}
	var known packedTies
	if m.store.Get(key, &known) && known.unpack(same) {
		return
	}
	tieTogether(same)
	_ = m.store.Put(key, packTies(same)) // as above
}

// tieKey stands for the measured fields in their order, and what their light
// is scaled by; false when one of them is not remembered itself.
func (m *memory) tieKey(same []*Sub) (cache.Key, bool) {
	if m == nil {
		return cache.Key{}, false
	}
	k := cache.NewKey("ties 16")
	for _, s := range same {
		if s.key == (cache.Key{}) {
			return cache.Key{}, false
		}
		k.Add(s.key, s.Target, s.Filter, s.Camera, s.PierSide, s.Exposure, s.GainSetting, s.ElectronsPerADU)
	}
	return k.Key(), true
}
