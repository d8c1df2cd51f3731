package ledger

import (
	"cmp"
	"context"
	"database/sql"
	"math"
	"slices"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/subs"
)

// Hours is what one target got through one filter in one night. Times are s.
type Hours struct {
	Night                  string
	Camera, Target, Filter names.Name
	Subs                   int
	Shot                   float64 // exposure of all subs
	Usable                 float64 // of those not culled
	Clear                  float64 // exposure × weight of those not culled, on the scale of the best night of the season; NaN when none has a weight
}

// Hours of every night, by target, filter and night. Spellings of a name that
// differ in case, spaces or hyphens are one name, spelled as in the latest night.
func (l *Ledger) Hours(ctx context.Context) (list []Hours, err error) {
	defer func() { err = l.explain(err) }()
	best, _, err := l.merits(ctx)
	if err != nil {
		return nil, err
	}
	type key struct {
		night                  string
		camera, target, filter names.Key
	}
	at := map[key]int{}
	targets, filters := map[names.Key]names.Name{}, map[names.Key]names.Name{}
	for scan := range l.rows(ctx, `SELECT night, camera, target, filter, optics, depth, count(*), sum(exposure),
		total(exposure) FILTER (WHERE verdict IN (?1, ?2)),
		sum(exposure * weight) FILTER (WHERE verdict IN (?1, ?2))
		FROM sub GROUP BY night, camera, target, filter, optics, depth ORDER BY night, camera, target, filter, optics, depth`, subs.Keep, subs.Doubtful) {
		h, err := hoursOf(scan, best)
		if err != nil {
			return nil, err
		}
		targets[h.Target.Key()], filters[h.Filter.Key()] = h.Target, h.Filter
		k := key{h.Night, h.Camera.Key(), h.Target.Key(), h.Filter.Key()}
		if i, ok := at[k]; ok {
			list[i].add(h)
			continue
		}
		at[k] = len(list)
		list = append(list, h)
	}
	for i := range list {
		list[i].Target, list[i].Filter = targets[list[i].Target.Key()], filters[list[i].Filter.Key()]
	}
	slices.SortStableFunc(list, func(a, b Hours) int {
		return cmp.Or(cmp.Compare(a.Target, b.Target), cmp.Compare(a.Filter, b.Filter), cmp.Compare(a.Night, b.Night))
	})
	return list, nil
}

// hoursOf are those of one row, the clear ones in hours of the best night of its view.
func hoursOf(scan func(into ...any) error, best map[night.View]*merit) (h Hours, err error) {
	var clear, depth sql.NullFloat64
	var optics string
	if err := scan(&h.Night, &h.Camera, &h.Target, &h.Filter, &optics, &depth, &h.Subs, &h.Shot, &h.Usable, &clear); err != nil {
		return h, err
	}
	h.Clear = number(clear)
	if m := best[night.View{Target: h.Target.Key(), Filter: h.Filter.Key(), Optics: optics}]; m != nil && depth.Valid && m.depth > 0 {
		h.Clear *= depth.Float64 / m.depth // a night whose depth is not known counts as one of the best
	}
	if h.Usable == 0 {
		h.Clear = 0
	}
	return h, nil
}

// add another spelling, night or camera.
func (h *Hours) add(o Hours) {
	h.Subs += o.Subs
	h.Shot += o.Shot
	h.Usable += o.Usable
	switch {
	case math.IsNaN(h.Clear):
		h.Clear = o.Clear
	case !math.IsNaN(o.Clear):
		h.Clear += o.Clear
	}
}

// Total is what one target got through one filter in all nights.
type Total struct {
	Hours
	Nights      int
	First, Last string // dates
}

// Totals sums up hours that are sorted as Hours gives them.
func Totals(hours []Hours) []Total {
	var list []Total
	for _, h := range hours {
		if n := len(list); n > 0 && list[n-1].Target == h.Target && list[n-1].Filter == h.Filter {
			t := &list[n-1]
			if t.Last != h.Night {
				t.Nights++
			}
			t.add(h)
			t.Last = h.Night
			continue
		}
		list = append(list, Total{Hours: h, Nights: 1, First: h.Night, Last: h.Night})
	}
	return list
}

// Earlier is the clear time of every night, as the plan takes it.
func (l *Ledger) Earlier(ctx context.Context) ([]plan.Earlier, error) {
	hours, err := l.Hours(ctx)
	if err != nil {
		return nil, err
	}
	var list []plan.Earlier
	for _, h := range hours {
		if !math.IsNaN(h.Clear) {
			list = append(list, plan.Earlier{Date: h.Night, Camera: h.Camera, Target: h.Target, Filter: h.Filter, ClearSeconds: h.Clear})
		}
	}
	return list, nil
}
