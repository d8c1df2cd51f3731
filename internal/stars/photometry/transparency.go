// Package photometry compares the light of the stars that fields have in common: what
// part of it arrives, over the field and over the night, and what the air takes of it by
// its depth.
//
// Model: ln flux of a star in a field is one number of the star and one of the field
// (its zero point), with errors by the star's noise, what the group's stars scatter by
// beyond it, 2 % at most, and what fainter stars around it add. How faint stars' light is
// brought to scale the group tells (see pool). The field is then cut into parts: a part counts with
// its own stars where they surely differ, and a star that must be there by the zero
// point and is not counts as lost light; between the stars the sky tells where, once they
// tell what its steps stand for (see bySky). Where too few stars tell, the sky's level
// beside that of the other fields says what is covered. Clear is what the best
// of the group have, so that ratios say nothing of the haze that all share.
//
// Sources stand at the functions: Eddington 1913 for why faint stars are left out,
// Hardie 1962 for extinction, Rousseeuw 1984 for a fit among clouds.
//
// Limits: fewer than four stars in common give no ratio; stars that vary and colours
// that air reddens are not modelled; cover by something as bright as the sky is seen
// by its missing stars alone.
package photometry

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// Transparency of one field: how much of the stars' light arrives.
type Transparency struct {
	Ratio      stats.Value // mean over the field, relative to the group's clear reference: 1 is the best of the group; N = stars
	Unevenness stats.Value // % sd of the ratio over the field beyond what star noise explains
	Map        []float64   // the ratio in stars.Parts x stars.Parts parts of the field, row by row; NaN where no star tells; nil without Ratio
	Covered    stats.Value // share of the field from which no light arrives: a tree, a roof, frost, thick cloud; N = stars that tell, 0 where only the sky does
	Depth      stats.Value // mean over the parts of (ratio over noise)², units^-2: what the sub adds to a stack
	Scatter    float64     // sd of ln of the light from star to star that their errors do not explain
	AtMost     float64     // without Ratio: what it is at most, as far as stars that were not found tell; 0: unknown
}

// Sure tells whether the light is known as well as stars sought at their places tell it.
func (t *Transparency) Sure() bool { return t.Ratio.OK() && t.Ratio.Err < sureRatio*t.Ratio.V }

// Limits of what is believed.
const (
	// sureRatio is the error of a ratio, as a share of it, from which on stars that are
	// sought at their places may tell it better.
	sureRatio = 0.04
	// leastLight is the light over the field, relative to that of the stars found, under
	// which these are not the stars that the other fields have.
	leastLight = 0.05
	// looseRatio is the error of a ratio, as a share of it, from which on it tells nothing.
	looseRatio = 0.3
	// tooBright is the ratio to a clear sub beyond which a misshapen one's stars are not
	// those of the others, or hold far more than their light.
	tooBright = 1.3
)

// Transparencies solves one zero point a field over the matched stars of a
// group (fields shot through one filter with one exposure) and gives flux
// ratios to the group's clear reference (see Normalise). scale is
// exposure × gain relative to the group's first field (all 1 when equal; nil
// stands for that).
//
// Model: ln flux = star + zero point, solved in turn for the stars and the
// fields, weighted by noise, what the group's stars scatter by beyond it, and what those of
// a field differ by beyond that; outliers have no share; stars that vary or saturate drop out. What arrives is then measured part by
// part of the field (see light), and the ratio is the mean over the parts.
func Transparencies(fields []*stars.Field, al []registration.Alignment, scale []float64) []Transparency {
	out := make([]Transparency, len(fields))
	z := newZeroPoints(fields, al, scale)
	z.find()
	z.eachField(func(j int) { out[j] = z.transparency(j) })
	Normalise(out, fields)
	for j, times := range secondLight(fields) {
		out[j].addSeconds(times)
	}
	return out
}

// shared is the part of what fainter stars may put each star's light off by that puts all of
// a field's off alike: in drawn crowds, ratios of broad subs are off by a fifth to a half. They
// do so in all fields, so that of what lies in a beam only what is more of it, or less, than
// in the usual field's puts a ratio off.
const shared = 1. / 3

// sharedBy is that part in field j.
func (z *zeroPoints) sharedBy(j int) float64 {
	if width := z.fields[j].FWHM.V; width > 0 {
		return shared * math.Abs(1-z.width*z.width/(width*width))
	}
	return shared
}

// transparency of one field, not yet relative to the group's best.
func (z *zeroPoints) transparency(j int) Transparency {
	if z.why[j] != "" {
		return z.unmeasured(j, z.why[j])
	}
	n := z.useful(j)
	if n < minMatched {
		return z.unmeasured(j, stars.FewInCommon, fact.Count("stars", n))
	}
	f := z.fields[j]
	var sumW, common, rounded, confused float64
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if z.tells(o) {
			w := z.weight(j, o)
			sumW += w
			if !f.Stars[o.index].OwnFlux {
				common += w * z.pooled[j].filterErr
			}
			confused += w * o.confused
			if f.QuantisedNoise() {
				rounded += w * o.sigma
			}
		}
	}
	l := z.light(j)
	if l.mean() < leastLight {
		return z.unmeasured(j, stars.MatchedByChance)
	}
	ratio := math.Exp(z.zero[j]) * l.mean()
	parts := l.parts()
	for k := range parts {
		parts[k] *= math.Exp(z.zero[j])
	}
	err := ratio * math.Hypot(max(stats.MedianErr/math.Sqrt(sumW), l.scatter/l.mean()), math.Hypot(math.Hypot(z.pooled[j].fluxErr, z.sharedBy(j)*confused/sumW), (common+rounded)/sumW))
	if err > looseRatio*ratio {
		return z.unmeasured(j, stars.LightsDisagree)
	}
	return Transparency{Ratio: stats.Known(ratio, err, n), Unevenness: l.uneven, Map: parts, Covered: l.covered, Depth: l.depth(math.Exp(z.zero[j]), f), Scatter: z.uneven[j]}
}

// unmeasured is the transparency of a field whose stars do not tell it: what is covered
// its sky may.
func (z *zeroPoints) unmeasured(j int, why fact.Code, values ...fact.Value) Transparency {
	t := unknown(why, values...)
	if z.fields[j] == nil {
		return t
	}
	if z.hidden[j] > 0 {
		t.Covered = stats.Known(z.hidden[j], unlitErr, 0)
	}
	return t
}

// unknown is the transparency of a field that has none.
func unknown(why fact.Code, values ...fact.Value) Transparency {
	missing := stats.Missing(why, values...)
	return Transparency{Ratio: missing, Unevenness: missing, Covered: missing, Depth: missing}
}

// Normalise divides by the clear reference. Where errors are small that is
// the median of the best tenth, by what is sure of each; else it is the weighted mean of
// all that differ from this one by no more than two standard errors: among noisy ratios of
// equally clear fields, the best are those that noise has raised. A field whose stars are far
// from the usual shape, the light of its neighbours in them, does not tell what is
// clear while others do.
func Normalise(all []Transparency, fields []*stars.Field) {
	var known, usual []stats.Value
	odd, lopsided := misshapen(fields), lopsided(all)
	for i, t := range all {
		if !t.Ratio.OK() {
			continue
		}
		known = append(known, t.Ratio)
		if !odd[i] && !lopsided[i] {
			usual = append(usual, t.Ratio)
		}
	}
	if len(usual) > 0 {
		known = usual
	}
	if len(known) == 0 {
		return
	}
	slices.SortFunc(known, func(a, b stats.Value) int { return cmp.Compare(b.V-b.Err, a.V-a.Err) })
	top := known[(len(known)+9)/10/2]
	var sum, n float64
	for _, r := range known {
		if math.Abs(r.V-top.V) <= 2*math.Hypot(r.Err, top.Err) {
			w := 1 / (r.Err*r.Err + stars.Systematic*stars.Systematic)
			sum, n = sum+w*r.V, n+w
		}
	}
	for i := range all {
		if odd[i] && len(usual) > 0 && all[i].Ratio.V*n/sum > tooBright {
			all[i] = unknown(stars.MisshapenBright)
			continue
		}
		all[i].AtMost *= n / sum
		if all[i].Ratio.OK() {
			all[i].Ratio = all[i].Ratio.Scaled(n / sum)
			all[i].Depth = all[i].Depth.Scaled(n / sum * n / sum)
			for k := range all[i].Map {
				all[i].Map[k] *= n / sum
			}
		}
	}
}

const (
	lopsidedFrom = 15   // % that a field is surely uneven by
	steadySky    = 0.03 // sd of ln of the light of the even ones, up to which they have clear sky: thick cloud is less steady
)

// lopsided tells which fields are uneven where most are even and their light is steady: one that
// shows more than these is no gap in cloud, but without its filter before a part of it.
func lopsided(all []Transparency) []bool {
	uneven, known := make([]bool, len(all)), 0
	var even []float64
	for i, t := range all {
		if !t.Ratio.OK() {
			continue
		}
		known++
		if uneven[i] = t.Unevenness.Surely() > lopsidedFrom; !uneven[i] {
			even = append(even, math.Log(t.Ratio.V))
		}
	}
	if 2*len(even) <= known || !(stats.MADSigma(even) < steadySky) {
		clear(uneven)
	}
	return uneven
}

// secondLight is, by field, how many times the light of its matched images it has with that of
// its second images, beyond what the middle one of all has there: ghosts and coma stand beside
// all stars of a group.
func secondLight(fields []*stars.Field) []float64 {
	times := make([]float64, len(fields))
	var shares []float64
	for _, f := range fields {
		if f != nil {
			shares = append(shares, f.Double.Light())
		}
	}
	slices.Sort(shares)
	for j, f := range fields {
		if times[j] = 1; f != nil {
			times[j] = max(1, (1-shares[(len(shares)-1)/2])/(1-f.Double.Light()))
		}
	}
	return times
}

// addSeconds adds, once, so many times what matched images hold to the normal light of a doubled
// field. Where second images lie in the same apertures it is counted already, so that no sub
// becomes clearer than clear by it.
func (t *Transparency) addSeconds(times float64) {
	if !t.Ratio.OK() {
		return
	}
	times = min(times, max(1, 1/t.Ratio.V))
	t.Ratio, t.Depth = t.Ratio.Scaled(times), t.Depth.Scaled(times*times)
	for k := range t.Map {
		t.Map[k] *= times
	}
}

// How far off the usual shape a field is misshapen.
const (
	farWider  = 1.4 // times the usual width, beyond which a star's light holds its neighbours'
	farLonger = 0.2 // ellipticity beyond the usual, likewise
)

// misshapen tells which fields are doubled, of a shape that could not be measured (rings,
// above all), or wider or more drawn out by far than most.
func misshapen(fields []*stars.Field) []bool {
	usual := figures.UsualShape(fields)
	odd := make([]bool, len(fields))
	for i, f := range fields {
		odd[i] = f != nil && (f.Double.Is() || !f.FWHM.OK() || usual.SurelyExceeded(f, farWider, farLonger))
	}
	return odd
}
