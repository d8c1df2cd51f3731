package night

import (
	"context"
	"math"
	"slices"
	"strings"
	"sync"

	"fitsqa/internal/cache"
	"fitsqa/internal/catalogue"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/plate"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Place is where a target's subs lie on the sky, by the one that was solved.
type Place struct {
	Target, Camera string
	File           string // of the sub
	plate.Solved
	FocalLength stats.Value // mm, by the pixel size
	PointingErr stats.Value // arcmin between header and sky
	Subs        int         // that are on the sky by their own stars
	ScaledByIt  int         // subs whose headers tell no scale, or one that the stars disprove
	Findings    []fact.Fact
}

// sought is how many fields of one camera are looked for in vain all over the sky, some
// 20 s of processor each, before the others are not: what keeps one from being found, as a
// field too narrow for the catalogue, keeps the next from it.
const sought = 2

// place finds every target on the sky, and each of its subs.
func (r *Result) place(ctx context.Context, known *memory, early *searches) {
	lost := map[names.Name]int{}
	for _, same := range sameFields(r.Subs) {
		camera := same[0].Camera
		p := placeTogether(ctx, known, early, same, lost[camera])
		if p.Why.Code == plate.NotAnywhere {
			lost[camera]++
		}
		r.Places = append(r.Places, p)
	}
	for _, s := range r.Subs {
		s.measureLight()
	}
	r.findWrongTargets()
}

// placeTogether solves the sub of a target that has the most stars, and lets the others
// follow by their ties.
// Where as many as lost of the camera's were nowhere on the sky, it may not be looked for.
func placeTogether(ctx context.Context, known *memory, early *searches, same []*Sub, lost int) Place {
	p := Place{Target: string(same[0].Target), Camera: string(same[0].Camera),
		FocalLength: stats.Missing(FieldNotFound), PointingErr: stats.Missing(FieldNotFound)}
	for _, s := range same {
		s.Plate = plate.Solved{Why: fact.Of(NoneOfTarget)}
	}
	first := starriest(same)
	if h := hintOf(first); lost < sought || h.Scale > 0 || !math.IsNaN(h.RA) {
		first.Plate = early.solve(ctx, known, first, h)
	} else {
		first.Plate.Why = fact.Of(OthersNowhere, fact.Count("fields", lost))
	}
	p.File, p.Solved = first.File, first.Plate
	if p.Why.Code != "" {
		for _, s := range same {
			s.Plate = p.Solved
		}
		return p
	}
	for _, s := range same {
		s.follow(ctx, known, first)
		if s.Plate.Why.Code == "" {
			p.Subs++
		}
	}
	p.describe(first)
	p.scaleByStars(same)
	return p
}

// starriest is the first of the subs that have the most stars.
func starriest(same []*Sub) *Sub {
	return slices.MaxFunc(same, func(a, b *Sub) int { return a.Field.Count - b.Field.Count })
}

// searches are those for the subs of most stars that begin before the subs are tied and
// compared, and go on beside that: a field that is not found takes as long. Only about the
// place and the scale that a header tells is it looked for so early.
type searches struct {
	of   map[*Sub]early
	stop context.CancelFunc
}

// early is one of them.
type early struct {
	field stars.Field // its stars, as they were
	hint  plate.Hint
	found func() plate.Solved // waits
}

func (r *Result) searchEarly(ctx context.Context, known *memory) *searches {
	all := &searches{of: map[*Sub]early{}}
	ctx, all.stop = context.WithCancel(ctx)
	var begin []func() plate.Solved
	for _, same := range sameFields(r.Subs) {
		first := starriest(same)
		h := hintOf(first)
		if !(h.Scale > 0) || math.IsNaN(h.RA) {
			continue
		}
		e := early{field: *first.Field, hint: h}
		e.field.Stars = slices.Clone(e.field.Stars)
		key := first.key
		e.found = sync.OnceValue(func() plate.Solved { return known.solve(ctx, key, &e.field, h) })
		all.of[first] = e
		begin = append(begin, e.found)
	}
	go func() {
		for i := 0; i < len(begin) && ctx.Err() == nil; i++ {
			begin[i]()
		}
	}()
	return all
}

// solve is what an early search for a sub finds, or a late one, where none has begun or its
// stars are others by now.
func (all *searches) solve(ctx context.Context, known *memory, s *Sub, h plate.Hint) plate.Solved {
	alike := func(a, b stars.Star) bool { return a.X == b.X && a.Y == b.Y && a.Flux == b.Flux }
	if e, begun := all.of[s]; begun && e.hint == h && slices.EqualFunc(e.field.Stars, s.Field.Stars, alike) {
		return e.found()
	}
	return known.solve(ctx, s.key, s.Field, h)
}

// follow gives a sub its place by its tie to the solved one, else by itself.
func (s *Sub) follow(ctx context.Context, known *memory, solved *Sub) {
	switch {
	case s == solved:
	case s.Align.Matched() && solved.Align.Matched():
		s.Plate = solved.Plate.Follow(s.Field, s.Align.Transform.Then(solved.Align.Transform.Inverse()))
	case len(s.Field.Stars) < 12:
		s.Plate = plate.Solved{Why: fact.Of(plate.FewStars, fact.Count("stars", len(s.Field.Stars)))}
	default:
		h := hintOf(s)
		h.Scale = solved.Plate.Scale
		if math.IsNaN(h.RA) {
			h.RA, h.Dec = solved.Plate.RA, solved.Plate.Dec
		}
		s.Plate = known.solve(ctx, s.key, s.Field, h)
	}
}

// hintOf is what the header says of a sub's place.
func hintOf(s *Sub) plate.Hint {
	nan := math.NaN()
	h := plate.Hint{RA: nan, Dec: nan, Scale: s.PixelScale}
	if s.Frame != nil && s.Frame.Meta.Dec >= -90 && s.Frame.Meta.RA >= 0 {
		h.RA, h.Dec = s.Frame.Meta.RA, s.Frame.Meta.Dec
	}
	return h
}

// describe fills in what the solution says of telescope and header.
func (p *Place) describe(s *Sub) {
	h := hintOf(s)
	if s.Frame != nil && s.Frame.Meta.PixelSize > 0 {
		// 206.264806 arcsec are a radian over µm per mm.
		scale := p.ScaleErr()
		f := 206.264806 * s.Frame.Meta.PixelSize / scale.V
		p.FocalLength = stats.Known(f, f*scale.Err/scale.V, scale.N)
	} else {
		p.FocalLength = stats.Missing(NoPixelSize)
	}
	p.PointingErr = stats.Missing(NoPointing)
	if !math.IsNaN(h.RA) {
		off := 60 * catalogue.Separation(h.RA, h.Dec, p.RA, p.Dec)
		p.PointingErr = stats.Known(off, 60*p.centreErr(), p.Stars)
		w, ht := p.Size()
		if off > 60*math.Min(w, ht)/2 {
			p.Findings = append(p.Findings, fact.Of(PointsAway, fact.Number("off_arcmin", off)))
		}
	}
	if h.Scale > 0 && !sameScale(p.Scale, h.Scale) {
		p.Findings = append(p.Findings, fact.Of(ScaleOfHeaderOff, fact.Number("off_pct", 100*(h.Scale/p.Scale-1)),
			fact.Number("header_arcsec_px", h.Scale), fact.Number("stars_arcsec_px", p.Scale)))
	}
}

// sameScale tells whether two scales are one but for what focal lengths in headers are
// rounded by, and spacers and focus change them (common practice, no source).
func sameScale(a, b float64) bool { return math.Abs(a/b-1) <= 0.03 }

// scaleByStars gives subs whose headers tell no scale, or one that the stars disprove, the
// scale of the stars.
func (p *Place) scaleByStars(same []*Sub) {
	for _, s := range same {
		own := p.Scale
		if s.Plate.Solution == nil && s.PixelScale > 0 {
			continue // perhaps of other optics
		}
		if s.Plate.Solution != nil && !sameScale(s.Plate.Scale, own) {
			own = s.Plate.Scale
		}
		if !sameScale(s.PixelScale, own) {
			s.PixelScale = own
			p.ScaledByIt++
		}
	}
}

func (p *Place) centreErr() float64 { centre, _ := p.Err(); return centre }

// solve recalls where a sub lies, or that it could not be found, or finds out and
// remembers. The search ends where the sky does, never by the clock: what is found would
// depend on the machine and what else it does.
func (m *memory) solve(ctx context.Context, of cache.Key, field *stars.Field, h plate.Hint) plate.Solved {
	type remembered struct {
		RA, Dec, Scale float64
		Why            fact.Fact
	}
	var key cache.Key
	keep := m != nil && of != (cache.Key{})
	if keep {
		key = cache.NewKey("place on the sky").Add(of, h.RA, h.Dec, h.Scale).Key()
		var was remembered
		if m.store.Get(key, &was) {
			if was.Why.Code != "" {
				return plate.Solved{Why: was.Why}
			}
			h = plate.Hint{RA: was.RA, Dec: was.Dec, Scale: was.Scale}
		}
	}
	got := plate.Solve(ctx, field, h)
	if keep && ctx.Err() == nil {
		was := remembered{Why: got.Why}
		if got.Why.Code == "" {
			was.RA, was.Dec, was.Scale = got.RA, got.Dec, got.Scale
		}
		_ = m.store.Put(key, was) // a full disk costs the next run time, and this one nothing
	}
	return got
}

// findWrongTargets tells subs that lie elsewhere than the others of their name, and of
// those that were parted from them by their stars, how far away.
func (r *Result) findWrongTargets() {
	for i := range r.Places {
		p := &r.Places[i]
		if p.Solution == nil {
			continue
		}
		w, h := p.Size()
		var lost []string
		var parted *Place
		for _, s := range r.Subs {
			if s.Target != names.Name(p.Target) || string(s.Camera) != p.Camera {
				continue
			}
			if s.Plate.Solution != nil && catalogue.Separation(s.Plate.RA, s.Plate.Dec, p.RA, p.Dec) > math.Hypot(w, h) {
				lost = append(lost, frames.Printable(s.File))
			}
			if named := s.Frame.Meta.Target; named != s.Target {
				parted = r.placeOf(named, p.Camera)
			}
		}
		if len(lost) > 0 {
			p.Findings = append(p.Findings, fact.Of(SubsElsewhere, fact.Count("subs", len(lost)), fact.Text("target", frames.Printable(p.Target)),
				fact.Text("files", strings.Join(lost[:min(3, len(lost))], ", "))))
		}
		if parted != nil {
			p.Findings = append(p.Findings, fact.Of(TargetElsewhere, fact.Number("apart_deg", catalogue.Separation(p.RA, p.Dec, parted.RA, parted.Dec)),
				fact.Text("named", frames.Printable(parted.Target))))
		}
	}
}

// placeOf is where a target was found; nil when it was not.
func (r *Result) placeOf(target names.Name, camera string) *Place {
	for i := range r.Places {
		if p := &r.Places[i]; p.Solution != nil && p.Target == string(target) && p.Camera == camera {
			return p
		}
	}
	return nil
}
