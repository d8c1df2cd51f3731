package dust

import (
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Match tells whether the dust shadows of a flat lie where the subs have
// them. Shift, rotation and ratio are those of the moved ones, flat to subs.
type Match struct {
	Lights, Flat  string // labels of the group of subs and of the flat set
	Filter        names.Name
	Subs          int // looked at
	Shadows       []ShadowMatch
	New           []Shadow    // in the subs, and not in the flat
	Told          int         // shadows of which it is known
	Wrong         int         // of these, how many do not match
	WorstPct      stats.Value // the strongest imprint or new shadow, % of the sky
	ShiftX        stats.Value // px, at the middle of the frame
	ShiftY        stats.Value
	RotationDeg   stats.Value // counter-clockwise, about the middle of the frame
	DiameterRatio stats.Value
	WithinPx      float64   // by how much shadows may have moved that are said to lie where they did; NaN where that is not known
	Why           fact.Fact // why nothing can be said; no code when something can
	Found         fact.Fact
}

// The states of a shadow.
const (
	ShadowMatches = "matches"
	ShadowMoved   = "moved"     // the subs have it elsewhere
	ShadowGone    = "gone"      // the subs do not have it
	ShadowPartly  = "partly"    // the subs have it, weaker or stronger than the flat
	ShadowUnknown = "not known" // with Why
)

// ShadowMatch is one shadow of the flat in the subs.
type ShadowMatch struct {
	Shadow
	State      string
	Why        fact.Fact   // why State is not known
	Imprint    stats.Value // what the division leaves over the depth of the shadow: 0 where it matches, 1 where the subs have none
	ResiduePct stats.Value // the strongest that it leaves, % of the sky
	MovedX     float64     // px, to where the subs have it; NaN when not moved
	MovedY     float64
}

func (m *ShadowMatch) wrong() bool { return m.State != ShadowMatches && m.State != ShadowUnknown }

// Bad tells whether anything is wrong with the flat.
func (d *Match) Bad() bool { return d.Wrong > 0 || len(d.New) > 0 }

func (d *Match) of() fact.Value { return fact.Text("lights", strings.TrimPrefix(d.Lights, "light ")) }

func (d Match) cannot(why fact.Fact) Match {
	d.Why = why
	d.Found = fact.Of(Untold, d.of(), fact.Reason(why))
	return d
}

func (d *Match) worst(pct float64) {
	if !d.WorstPct.OK() || pct > d.WorstPct.V {
		d.WorstPct = stats.Known(pct, math.NaN(), d.Subs)
	}
}

func (d *Match) conclude() {
	switch n := len(d.Shadows); {
	case d.Told == 0 && n > 0 && len(d.New) == 0:
		*d = d.cannot(d.Shadows[0].Why)
	case d.Bad():
		d.Found = d.off()
	case n == 0:
		d.Found = fact.Of(NoneLacking, d.of())
	case d.Told < n:
		d.Found = fact.Of(SomeLie, append(d.within(), d.of(), fact.Count("told", d.Told), fact.Count("shadows", n))...)
	default:
		d.Found = fact.Of(AllLie, append(d.within(), d.of(), fact.Count("shadows", n))...)
	}
}

// within is how near shadows are said to lie; nothing where one of them leaves what is
// plainly there and not understood.
func (d *Match) within() []fact.Value {
	puzzling := func(m ShadowMatch) bool {
		return m.State == ShadowUnknown && m.ResiduePct.V > imprintSigma*m.ResiduePct.Err
	}
	if math.IsNaN(d.WithinPx) || slices.ContainsFunc(d.Shadows, puzzling) {
		return []fact.Value{fact.Text("within", string(WithinUnknown))}
	}
	return []fact.Value{fact.Text("within", string(Within)), fact.Number("within_px", math.Ceil(d.WithinPx))}
}

func (d *Match) off() fact.Fact {
	clauses := []fact.Code{OnlyNew}
	values := []fact.Value{d.of(), fact.Count("wrong", d.Wrong), fact.Count("told", d.Told), fact.Number("worst_pct", d.WorstPct.V)}
	if d.Wrong > 0 {
		m := d.strongest()
		clauses[0] = ShadowsOff
		values = append(values, fact.Number("x", m.X), fact.Number("y", m.Y))
	}
	clauses = append(clauses, WorstLeaves)
	for _, part := range []func() ([]fact.Code, []fact.Value){d.moved, d.partly, d.gone, d.added} {
		c, v := part()
		clauses, values = append(clauses, c...), append(values, v...)
	}
	return fact.Of(Off, append(values, fact.Text("clauses", codes(clauses)))...)
}

// codes are the clauses of a finding, one after the other.
func codes(all []fact.Code) string {
	var b strings.Builder
	for _, c := range all {
		b.WriteString(" " + string(c))
	}
	return b.String()[1:]
}

func (d *Match) strongest() ShadowMatch {
	worst := -1
	for i := range d.Shadows {
		if d.Shadows[i].wrong() && (worst < 0 || d.Shadows[i].ResiduePct.V > d.Shadows[worst].ResiduePct.V) {
			worst = i
		}
	}
	return d.Shadows[worst]
}

func (d *Match) count(state string) int {
	n := 0
	for _, m := range d.Shadows {
		if m.State == state {
			n++
		}
	}
	return n
}

func (d *Match) moved() (clauses []fact.Code, values []fact.Value) {
	n := d.count(ShadowMoved)
	if n == 0 {
		return nil, nil
	}
	by, how := MovedSomewhere, MovedWithFilter
	if d.ShiftX.OK() {
		by = MovedBy
	}
	if r := d.RotationDeg; r.OK() && math.Abs(r.V) > 3*r.Err && math.Abs(r.V) > 0.3 {
		how = MovedWithTurn
	}
	clauses = []fact.Code{Moved}
	values = []fact.Value{fact.Count("moved", n), fact.Text("by", string(by)), fact.Text("how", string(how)),
		fact.Number("shift_x_px", d.ShiftX.V), fact.Number("shift_y_px", d.ShiftY.V), fact.Number("turned_deg", d.RotationDeg.V)}
	if r := d.DiameterRatio; r.OK() && math.Abs(r.V-1) > max(3*r.Err, 0.07) {
		clauses, values = append(clauses, Widened), append(values, fact.Number("width_ratio", r.V))
	}
	return clauses, values
}

func (d *Match) partly() (clauses []fact.Code, values []fact.Value) {
	n := d.count(ShadowPartly)
	if n == 0 {
		return nil, nil
	}
	var imprints []float64
	for _, m := range d.Shadows {
		if m.State != ShadowUnknown {
			imprints = append(imprints, m.Imprint.V)
		}
	}
	mean, sigma := stats.Median(imprints), stats.MADSigma(imprints)
	switch alike := n >= 3 && n == d.Told && sigma < 0.2*math.Abs(mean); {
	case alike && mean > 0:
		return []fact.Code{AllTooMuch}, []fact.Value{fact.Number("too_much_pct", 100*mean)}
	case alike:
		return []fact.Code{AllTooLittle}, []fact.Value{fact.Number("too_little_pct", -100*mean)}
	}
	return []fact.Code{OtherDepth}, []fact.Value{fact.Count("partly", n)}
}

func (d *Match) gone() (clauses []fact.Code, values []fact.Value) {
	if n := d.count(ShadowGone); n > 0 {
		return []fact.Code{Gone}, []fact.Value{fact.Count("gone", n)}
	}
	return nil, nil
}

func (d *Match) added() (clauses []fact.Code, values []fact.Value) {
	if len(d.New) == 0 {
		return nil, nil
	}
	s := d.New[0]
	return []fact.Code{Added}, []fact.Value{fact.Count("new", len(d.New)), fact.Number("new_x", s.X), fact.Number("new_y", s.Y),
		fact.Number("new_diameter_px", s.Diameter), fact.Number("new_depth_pct", s.DepthPct)}
}

// Note is the result in short where a warning has the whole.
func (d *Match) Note() fact.Fact {
	if !d.Bad() {
		return d.Found
	}
	return fact.Of(OffInShort, d.of(), fact.Count("wrong", d.Wrong), fact.Count("told", d.Told))
}
