package worth

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// A glow brightens the same pixels of every sub, the sky those that lie under the same
// place of the sky. Where dither or drift moves a sub by a few pixels, each cell of it
// changes by that times the slope of the sky there; a glow's slope changes nothing. By
// how much the cells change less than the slope of what they show would make them is
// the slope of the glow, however uneven the sky is.

// SeenGlow is what subs tell of a glow, e- of one sub.
type SeenGlow struct {
	Height stats.Value // of its highest cell
	AtMost float64     // no glow is higher
	Place  fact.Code   // as in sensor.Dark; of the glow, or of what may be one
	Area   float64     // px, down to half its height
}

// Limits: how many sigma of chance a glow stands out, tried in eight places and five sizes;
// how many subs at least that can be tied to each other tell of it; from how many sigma on a
// patch is brighter than the sky beside it (noise alone reaches 3.2 among a thousand cells,
// and not in neighbours).
const (
	glowSure   = 5
	fewestTied = 10
	patchSigma = 6
)

func (s *Seen) glow() SeenGlow {
	found := SeenGlow{Height: stats.Missing(NoEdgeBrighter)}
	var doubtful SeenGlow
	m := s.motion()
	var corners [][]trial
	for _, z := range zones() {
		bright, noise := s.brighter(z)
		found.AtMost = max(found.AtMost, patchSigma*noise)
		g, trials := s.still(z, m)
		if z.corner {
			corners = append(corners, trials)
		}
		switch {
		case g.Height.OK() && !(g.Height.V < found.Height.V): // NaN too
			found = g
		case !g.Height.OK() && bright > patchSigma*noise:
			if limit := min(bright+3*noise, g.AtMost); !(limit <= doubtful.AtMost) {
				doubtful = SeenGlow{stats.Missing(SkyOrSensor), limit, z.at, g.Area}
			}
		}
	}
	if flatsCorners(corners) {
		found.Height = stats.Missing(CornersBright)
	}
	if !found.Height.OK() && doubtful.AtMost > found.AtMost {
		return doubtful
	}
	return found
}

// flatsCorners tells that corners are bright as a flat leaves them that does not fit, or
// that divides a dark current left in the subs: three or four, none sure to be far below the
// brightest at the size that this has. What changes while the sky drifts raises some of them
// and lowers others, so that one alone may be sure.
func flatsCorners(corners [][]trial) bool {
	var top trial
	for _, c := range corners {
		if i := likeliest(c); i >= 0 && c[i].height > top.height {
			top = c[i]
		}
	}
	alike := 0
	for _, c := range corners {
		for _, f := range c {
			if top.height > 0 && f.scale == top.scale && f.height+2*f.err() > top.height/3 {
				alike++
			}
		}
	}
	return alike >= 3
}

// ShareGlow lets groups of one camera know what another of them tells of its glow, which
// grows with the exposure, under whatever sky.
func ShareGlow(groups []*Input) {
	for _, in := range groups {
		if in.Found == nil || in.Found.Glow.Height.OK() {
			continue
		}
		joint := in.Found.Glow
		for _, o := range groups {
			if o.Found != nil && o.Camera.Same(in.Camera) {
				joint = joint.or(o.Found.Glow, in.Exposure/o.Exposure)
			}
		}
		with := *in.Found
		with.Glow = joint
		in.Found = &with
	}
}

// or is what another group tells, where that is more: longer is how much longer the
// exposure is here.
func (g SeenGlow) or(o SeenGlow, longer float64) SeenGlow {
	o.Height, o.AtMost = o.Height.Scaled(longer), o.AtMost*longer
	if o.Height.OK() && !(g.Height.OK() && g.Height.Err <= o.Height.Err) || !g.Height.OK() && o.AtMost < g.AtMost {
		return o
	}
	return g
}
