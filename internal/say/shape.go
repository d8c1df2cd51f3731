package say

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

func (t *Trouble) soft(r *night.Result, c clock, when string) string {
	if d := t.driftOf(r); d != nil {
		return t.focus(r, d, c)
	}
	text := strings.TrimSpace("Soft stars " + when)
	if widths := figures(t.Subs, func(s *night.Sub) stats.Value { return s.Field.FWHM }); len(widths) > 0 {
		text += ": FWHM "
		if len(widths) > 1 {
			text += "up to "
		}
		widest := slices.IndexFunc(t.Subs, func(s *night.Sub) bool { return s.Field != nil && s.Field.FWHM.V == widths[len(widths)-1] })
		text += fwhm(widths[len(widths)-1], t.Subs[widest].PixelScale)
	}
	if limit := t.pixelLimit(); limit.Code != "" {
		text += Fact(limit)
	}
	if filters := filtersOf(t.Subs); len(filters) > 1 {
		text += ", in " + list(filters)
	}
	if low := t.low(); low != "" {
		return text + low
	}
	switch after := t.after(r); {
	case after == afterFilter:
		text += ", right after the change of filter: focus there"
	case after != "":
		text += ", " + after
	}
	return text
}

// pixelLimit is the limit in pixels that alone makes most of the subs soft; no code where it is
// otherwise.
func (t *Trouble) pixelLimit() (limit fact.Fact) {
	n := 0
	for _, s := range t.Subs {
		if f := softByPixels(s); f.Code != "" {
			n, limit = n+1, f
		}
	}
	if 2*n <= len(t.Subs) {
		return fact.Fact{}
	}
	return limit
}

// softByPixels is the limit in pixels that alone makes a sub soft, its scale being unknown: of
// a small pixel so wide a star may be a good one. No code where it is otherwise.
func softByPixels(s *night.Sub) fact.Fact {
	for _, f := range s.Findings {
		if i := slices.IndexFunc(f.Facts, func(x fact.Fact) bool { return x.Code == subs.WidthLimitPx }); i >= 0 {
			return f.Facts[i]
		}
	}
	return fact.Fact{}
}

// low tells that most of the soft subs are what their altitude makes them, how high
// the target stood then, and when it stands better; "" where it is not so.
func (t *Trouble) low() string {
	var altitudes []float64
	for _, s := range t.Subs {
		if s.Low && s.Sky.TargetAlt.OK() {
			altitudes = append(altitudes, s.Sky.TargetAlt.V)
		}
	}
	if 2*len(altitudes) <= len(t.Subs) {
		return ""
	}
	first, last := altitudes[0], altitudes[len(altitudes)-1]
	text := fmt.Sprintf(", as the target stood only %s high", span(slices.Min(altitudes), slices.Max(altitudes), 0, "°"))
	switch {
	case last < first:
		return text + " and sank: end earlier, or go to one that stands higher"
	case last > first:
		return text + " and rose: begin later, or with one that stands higher"
	}
	return text
}

// fwhm in px, and in arcseconds where the scale is known.
func fwhm(px, scale float64) string {
	text := unit(number(px, 1), "px")
	if scale > 0 {
		text += fmt.Sprintf(" (%s″)", number(px*scale, 1))
	}
	return text
}

// along is how far directions may differ and still be one, degrees.
const along = 15

// trailed tells how far stars are drawn out, and whether all point one way.
func (t *Trouble) trailed(r *night.Result, when string) string {
	var angles []float64
	least, most, doubled := math.Inf(1), 0.0, 0
	for _, s := range t.Subs {
		if finds(s, subs.StarsDoubled) { // round as they are, each of the two
			doubled++
			continue
		}
		if s.Field == nil || !s.Field.Ellipticity.OK() {
			continue
		}
		e := s.Field.Ellipticity.V
		least, most = math.Min(least, e), math.Max(most, e)
		if s.Field.Angle.OK() {
			angles = append(angles, s.Field.Angle.V)
		}
	}
	if doubled == len(t.Subs) {
		return dated(count(doubled, "sub")+" with every star twice", when) + ": the mount jumped, or the exposure began before the dither had settled"
	}
	text := dated(count(len(t.Subs), "sub")+" trailed", when)
	if doubled > 0 {
		text += fmt.Sprintf(", %d of them with every star twice, as a jump leaves it", doubled)
	}
	if most > 0 {
		text += ": ellipticity " + span(least, most, 2, "")
	}
	if after := t.after(r); after != "" && after != afterFilter {
		return text + ", " + after + ", where the mount may not have settled"
	}
	if px := t.driftPx(); px > 0 {
		text += fmt.Sprintf(", along the drift of the field, some %s in an exposure: ", unit(rough(px), "px"))
		if float64(len(t.Subs)) > mostly*float64(len(r.Subs)) {
			return text + "the mount does not follow the stars; see to its rate, polar alignment and guiding, unless it followed a comet"
		}
		return text + "see to guiding, polar alignment and drive"
	}
	if spread := angleSpread(angles); len(angles) > 1 && spread <= along {
		return text + ", all in one direction, as one axis or gusts would do; look at that axis, its drive, balance and cables"
	}
	return text + "; see to guiding, balance and shelter from wind"
}

// driftPx is by how much the field drifts in an exposure, the usual one, where most of the
// subs trail along that; else 0.
func (t *Trouble) driftPx() float64 {
	var px []float64
	for _, s := range t.Subs {
		for _, f := range s.Findings {
			for _, why := range f.Facts {
				if drift, ok := why.Value("drift_px"); ok && why.Code == subs.AlongDrift {
					px = append(px, drift.Number)
				}
			}
		}
	}
	if 2*len(px) <= len(t.Subs) {
		return 0
	}
	return stats.Median(px)
}

// dated puts a time, if there is one, behind what happened.
func dated(what, when string) string {
	if when == "" {
		return what
	}
	return what + ", " + when
}

// angleSpread is the largest distance of a direction from the mean one; degrees,
// directions being alike at 180°.
func angleSpread(angles []float64) float64 {
	var c, s float64
	for _, a := range angles {
		sin, cos := math.Sincos(2 * a * math.Pi / 180)
		c, s = c+cos, s+sin
	}
	mean := math.Atan2(s, c) * 90 / math.Pi
	worst := 0.0
	for _, a := range angles {
		worst = math.Max(worst, math.Abs(math.Remainder(a-mean, 180)))
	}
	return worst
}

func finds(s *night.Sub, code fact.Code) bool {
	return slices.ContainsFunc(s.Findings, func(f subs.Finding) bool { return fact.Has(f.Facts, code) })
}
