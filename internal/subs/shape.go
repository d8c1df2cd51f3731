package subs

import (
	"fmt"
	"math"
)

// trailed looks for elongation that all stars share and the optics do not make:
// tracking, wind, a knock. It is held against absolute limits, so that a night
// that trails from end to end is not held against itself. It is not thrown away
// whole either: see trailedLimit.
func (e *evidence) trailed() finding {
	f := e.Field
	if f == nil || !(f.Coherence.V >= e.lim.CoherenceMin) {
		return finding{}
	}
	cull := e.trailedLimit()
	verdict, severity := grade(e.trail-math.Sqrt(square(f.Ellipticity.Err)), e.lim.EllipticityDoubtful, cull)
	if verdict == Keep || e.byChance() {
		return finding{}
	}
	words := fmt.Sprintf("ellipticity %.2f along %.0f°, coherence %.2f%s", f.Ellipticity.V, f.Angle.V, f.Coherence.V, e.trailKind())
	if own := math.Hypot(e.base.EllipticityX, e.base.EllipticityY); own >= opticsShows {
		words += fmt.Sprintf(", %.2f beyond the optics' %.2f", e.trail, own)
	}
	words += fmt.Sprintf("; limit %.2g", crossed(verdict, e.lim.EllipticityDoubtful, cull))
	if verdict == Doubtful && e.trail > e.lim.EllipticityCull && cull > e.lim.EllipticityCull {
		words += fmt.Sprintf(", and not culled since the group's roundest quarter is at %.2f", e.base.Roundest)
	}
	return finding{Trailed, verdict, severity, words}
}

// A cull is worth what it leaves. Where hardly any sub of a group is round or
// sharp, culling those that are like the rest leaves no better stack, only less of
// one: then only stars as lines, or over four times the area, are culled, which
// spoil any stack. It is one limit or the other and no middle: a limit that
// follows the best of a few subs lies among the others, and takes or leaves
// them as those few happen to be.
const (
	anyTrail = 4. / 3 // times the cull limit: an axis ratio of 0.6 by default
	anyWidth = 2.0    // times the absolute limit
)

// trailedLimit is the elongation from which on a sub is culled.
func (e *evidence) trailedLimit() float64 {
	if e.base.Roundest > e.lim.EllipticityDoubtful {
		return anyTrail * e.lim.EllipticityCull
	}
	return e.lim.EllipticityCull
}

// widestLimit is the absolute width from which on a sub is culled, arcsec.
func (e *evidence) widestLimit() float64 {
	if e.base.FWHM*e.PixelScale*e.lim.FWHMDoubtful > e.lim.FWHMMaxArcsec {
		return anyWidth * e.lim.FWHMMaxArcsec
	}
	return e.lim.FWHMMaxArcsec
}

// opticsShows is the ellipticity of the optics from which on it is worth a word.
const opticsShows = 0.03

// byChance tells whether stars drawn out in random directions may agree as well
// as these: the mean vector of N of ellipticity e exceeds x by chance with
// P = exp(-N x²/e²), the null of the two-dimensional random walk (Rayleigh
// 1905); one time in a hundred counts as chance. Where the group's other subs
// are round there are no such stars, and a few that agree are enough.
func (e *evidence) byChance() bool {
	n := e.Field.Ellipticity.N
	if n >= fewestShapes && e.base.Ellipticity < e.Field.Ellipticity.V/2 {
		return false
	}
	return e.trail < e.Field.Ellipticity.V*math.Sqrt(math.Log(100)/float64(max(n, 1)))
}

// soft looks for stars larger than the group's, or than any sub's should be.
func (e *evidence) soft() finding {
	f := e.Field
	if f == nil {
		return finding{}
	}
	name, size, base := "FWHM", f.FWHM.V, e.base.FWHM
	if e.byHFD {
		name, size, base = "half-flux diameter", f.HFD.V, e.base.HFD
	}
	verdict, severity := grade(e.fwhmSure, e.lim.FWHMDoubtful, e.lim.FWHMCull)
	words := fmt.Sprintf("%s %.1f px, %.2f times %s %.2f%s; limit %g", name, size, e.fwhm, e.whose(), base,
		e.softKind(), crossed(verdict, e.lim.FWHMDoubtful, e.lim.FWHMCull))
	if absolute, hard, limit := e.softAbsolute(size); hard > severity {
		verdict, severity = absolute, hard
		words = fmt.Sprintf("%s %.1f px; limit %s", name, size, limit)
	}
	if verdict == Keep && f.Defocused && math.IsNaN(e.fwhm) {
		verdict, severity = Cull, 2
		words = fmt.Sprintf("stars are rings, half-flux diameter %.1f px: far out of focus", f.HFD.V)
	}
	if verdict == Keep {
		return finding{}
	}
	return finding{Soft, verdict, severity, words}
}

// softAbsolute holds the size against the limits that no group makes good.
func (e *evidence) softAbsolute(px float64) (v Verdict, severity float64, limit string) {
	if !(px > e.lim.FWHMMaxPx) {
		return Keep, 0, ""
	}
	if math.IsNaN(e.PixelScale) {
		return Doubtful, 1, fmt.Sprintf("%g px, the pixel scale being unknown", e.lim.FWHMMaxPx)
	}
	arcsec, cull := px*e.PixelScale, e.widestLimit()
	limit = fmt.Sprintf("%g\" and %g px", e.lim.FWHMMaxArcsec, e.lim.FWHMMaxPx)
	switch {
	case arcsec > cull:
		return Cull, 1 + math.Min(arcsec/e.lim.FWHMMaxArcsec, px/e.lim.FWHMMaxPx), limit
	case arcsec > e.lim.FWHMMaxArcsec:
		return Doubtful, 1, fmt.Sprintf("%s, and not culled since the group's sharpest quarter is at %.1f\"", limit, e.base.FWHM*e.PixelScale)
	}
	return Keep, 0, ""
}
