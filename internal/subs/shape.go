package subs

import (
	"fmt"
	"math"
)

// trailed looks for elongation that all stars share and the optics do not make:
// tracking, wind, a knock. It is held against absolute limits, so that a night
// that trails from end to end is not held against itself.
func (e *evidence) trailed() finding {
	f := e.Field
	if f == nil || !(f.Coherence.V >= e.lim.CoherenceMin) {
		return finding{}
	}
	verdict, severity := grade(e.trail-math.Sqrt(square(f.Ellipticity.Err)), e.lim.EllipticityDoubtful, e.lim.EllipticityCull)
	if verdict == Keep || e.byChance() {
		return finding{}
	}
	words := fmt.Sprintf("ellipticity %.2f along %.0f°, coherence %.2f%s", f.Ellipticity.V, f.Angle.V, f.Coherence.V, e.trailKind())
	if own := math.Hypot(e.base.EllipticityX, e.base.EllipticityY); own >= opticsShows {
		words += fmt.Sprintf(", %.2f beyond the optics' %.2f", e.trail, own)
	}
	return finding{Trailed, verdict, severity, fmt.Sprintf("%s; limit %g", words, crossed(verdict, e.lim.EllipticityDoubtful, e.lim.EllipticityCull))}
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
	if arcsec := px * e.PixelScale; arcsec > e.lim.FWHMMaxArcsec {
		return Cull, 1 + math.Min(arcsec/e.lim.FWHMMaxArcsec, px/e.lim.FWHMMaxPx), fmt.Sprintf("%g\" and %g px", e.lim.FWHMMaxArcsec, e.lim.FWHMMaxPx)
	}
	return Keep, 0, ""
}
