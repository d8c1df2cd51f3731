package subs

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// poorFewest subs tell what the typical one of a group is like.
const poorFewest = 3

// notes say what holds for the group as a whole.
func (g *Group) notes(limits Limits) {
	if g.Baseline.Clear == 0 {
		g.Notes = append(g.Notes, fact.Of(FewReadable, fact.Count("fewest", minGroup)))
	}
	if g.Followed > 0 {
		g.Notes = append(g.Notes, fact.Of(CometFollowed, fact.Number("drift_px", g.Followed)))
	}
	lim := limits.For(g.Target, g.Filter)
	g.noteTemperature(lim)
	g.noteAlternation("rows", func(f *stars.Field) stats.Value { return f.OddRows })
	g.noteAlternation("columns", func(f *stars.Field) stats.Value { return f.OddColumns })
	usable := usableSubs(g.Subs)
	if len(usable) < poorFewest {
		return
	}
	trailed := 0
	for _, s := range usable {
		if slices.Contains(s.Causes, Trailed) {
			trailed++
		}
	}
	if e := median(g.Subs, (*Sub).ownElongation); 2*trailed > len(usable) && e > lim.EllipticityDoubtful {
		g.Poor = append(g.Poor, Trailed)
		g.Notes = append(g.Notes, fact.Of(PoorShape, fact.Number("ellipticity", e), fact.Number("limit", lim.EllipticityDoubtful)))
	}
	fwhm := median(g.Subs, func(s *Sub) float64 { return s.Field.FWHM.V })
	if scale := g.Subs[0].PixelScale; fwhm > lim.FWHMMaxPx && fwhm*scale > lim.FWHMMaxArcsec {
		g.Poor = append(g.Poor, Soft)
		g.Notes = append(g.Notes, fact.Of(PoorWidth, fact.Number("fwhm_px", fwhm), fact.Number("fwhm_arcsec", fwhm*scale),
			fact.Number("limit_px", lim.FWHMMaxPx), fact.Number("limit_arcsec", lim.FWHMMaxArcsec)))
	}
}

// Alternate lines are worth a word where they differ by more than this share of a
// pixel's noise, and by so many of their errors.
const (
	alternateShare = 0.2
	alternateSigma = 6
)

// noteAlternation names a read-out whose alternate rows or columns differ.
func (g *Group) noteAlternation(lines string, of func(*stars.Field) stats.Value) {
	var by []float64
	measured := usableSubs(g.Subs)
	for _, s := range measured {
		if v := of(s.Field); math.Abs(v.V) > max(alternateSigma*v.Err, alternateShare*s.NoiseADU.V) {
			by = append(by, math.Abs(v.V))
		}
	}
	if len(by) == 0 {
		return
	}
	g.Notes = append(g.Notes, fact.Of(AlternateLines, fact.Text("lines", lines), fact.Number("adu", stats.Median(by)), fact.Count("subs", len(by)), fact.Count("measured", len(measured))))
}
