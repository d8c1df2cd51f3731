// Package plan turns a night's figures into advice: how long to expose, what
// the night yielded, what to shoot next and which calibration frames to add.
//
// Exposure: in a stack of given total time the number of subs cancels, so that
// what counts is how far the background's shot noise in one sub outweighs the read
// noise. Upwards, stars that saturate and subs that trail set the limit.
//
// Time is counted three ways: shot (exposure of all subs), usable (of those not
// culled) and clear (equivalent time under the best conditions of the group,
// exposure × weight). Goals are counted in clear time, since only that adds up, on the
// scale of the season's best night, so that nights under different skies add up too.
package plan

import (
	"fitsqa/internal/calib"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// Input is a judged night, or several.
type Input struct {
	Groups  []Group
	Site    *sky.Site // nil when unknown
	Earlier []Earlier // what other nights brought, from the season ledger

	EarlierUnknown string // why the ledger could not be read; "" when it could, or none was asked for
}

// Group is a judged group of subs and what is known of camera, optics and
// calibration for it.
type Group struct {
	*subs.Group
	Calibration calib.Calibration
	Offset      float64         // ADU, of the bias; NaN when unknown
	FlatLevel   float64         // e- per pixel in one flat; NaN when unknown
	Aperture    float64         // mm; NaN when unknown
	ZeroPoint   float64         // mag that gives 1 ADU/s, as the header claims; NaN when unknown
	DitherPx    float64         // rms shift between subs, px; NaN when not measured
	Coverage    *calib.Coverage // nil when nothing is known of calibration frames
	Worth       *worth.Answer   // of darks; nil when not weighed
	Bias, Flats worth.Master
}

// Earlier is clear time that one target got through one filter in another night, on the
// scale of the season's best night. What the night at hand holds itself is not counted twice.
type Earlier struct {
	Date           string     // as in Night
	Camera         names.Name // likewise
	Target, Filter names.Name
	ClearSeconds   float64
}

// Plan is the advice for every target and filter, and what it rests on.
type Plan struct {
	Exposures []Exposure // one a group of subs
	Yields    []Yield    // one a target and filter, all nights together
	Nights    []Night    // one a night and camera
	Goals     []Progress
	Standings []Standing // one a target that has no goal
	Shopping  []Shopping // calibration frames to shoot, most useful first
}

// Make works out the advice.
func Make(in Input, opt Options) *Plan {
	p := &Plan{}
	for _, g := range in.Groups {
		p.Exposures = append(p.Exposures, expose(g, opt))
	}
	p.Yields = yields(allSubs(in.Groups))
	p.Nights = nights(in)
	in.Earlier = p.others(in.Earlier)
	p.Goals = p.progress(in, opt)
	p.Standings = p.standings(in)
	p.Shopping = shop(in.Groups, opt)
	return p
}

// others are the records of nights and filters that are not at hand.
func (p *Plan) others(all []Earlier) []Earlier {
	type key struct {
		date                   string
		camera, target, filter names.Key
	}
	here := map[key]bool{}
	for _, n := range p.Nights {
		for _, y := range n.Yields {
			here[key{n.Date, n.Camera.Key(), y.Target.Key(), y.Filter.Key()}] = true
		}
	}
	var list []Earlier
	for _, e := range all {
		if !here[key{e.Date, e.Camera.Key(), e.Target.Key(), e.Filter.Key()}] {
			list = append(list, e)
		}
	}
	return list
}
