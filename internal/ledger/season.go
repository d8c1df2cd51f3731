package ledger

import (
	"context"
	"database/sql"
	"math"
	"sort"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/stats"
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
func (l *Ledger) Hours(ctx context.Context) ([]Hours, error) {
	list, err := l.hours(ctx)
	return list, l.explain(err)
}

func (l *Ledger) hours(ctx context.Context) ([]Hours, error) {
	best, _, err := l.merits(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := l.db.QueryContext(ctx, `SELECT night, camera, target, filter, optics, depth, count(*), sum(exposure),
		total(exposure) FILTER (WHERE verdict IN (?1, ?2)),
		sum(exposure * weight) FILTER (WHERE verdict IN (?1, ?2))
		FROM sub GROUP BY night, camera, target, filter, optics, depth ORDER BY night, camera, target, filter, optics, depth`, subs.Keep, subs.Doubtful)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	type key struct {
		night                  string
		camera, target, filter names.Key
	}
	at := map[key]int{}
	targets, filters := map[names.Key]names.Name{}, map[names.Key]names.Name{}
	var list []Hours
	for rows.Next() {
		var h Hours
		var clear, depth sql.NullFloat64
		var optics string
		if err := rows.Scan(&h.Night, &h.Camera, &h.Target, &h.Filter, &optics, &depth, &h.Subs, &h.Shot, &h.Usable, &clear); err != nil {
			return nil, err
		}
		h.Clear = number(clear)
		if m := best[night.View{Target: h.Target.Key(), Filter: h.Filter.Key(), Optics: optics}]; m != nil && depth.Valid && m.depth > 0 {
			h.Clear *= depth.Float64 / m.depth // a night whose depth is not known counts as one of the best
		}
		if h.Usable == 0 {
			h.Clear = 0
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
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i], list[j]
		if a.Target != b.Target {
			return a.Target < b.Target
		}
		if a.Filter != b.Filter {
			return a.Filter < b.Filter
		}
		return a.Night < b.Night
	})
	return list, rows.Err()
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

// Best is the best that one site gave through one filter: of the medians of its
// nights, over subs that were kept.
type Best struct {
	Lat, Lon  float64 // degrees, rounded to 0.01 (1 km); NaN for subs without a site
	Filter    names.Name
	Nights    int
	FWHM      float64 // arcsec; NaN when never measured
	FWHMNight string
	Sky       float64 // e-/s per square arcsec
	SkyNight  string
	SkyMag    float64 // mag per square arcsec
}

// enoughSubs of a night before its median can be the best.
const enoughSubs = 5

// Sites gives the best of every site and filter.
func (l *Ledger) Sites(ctx context.Context) ([]Best, error) {
	list, err := l.sites(ctx)
	return list, l.explain(err)
}

func (l *Ledger) sites(ctx context.Context) ([]Best, error) {
	rows, err := l.db.QueryContext(ctx, `SELECT round(lat, 2), round(lon, 2), filter, night, fwhm, sky, sky_mag
		FROM sub WHERE verdict = ? ORDER BY 1, 2, filter COLLATE spelling, night`, subs.Keep)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Best
	var night string
	var fwhm, sky, mag []float64
	settle := func() {
		if len(list) > 0 {
			list[len(list)-1].night(night, fwhm, sky, mag)
		}
		fwhm, sky, mag = nil, nil, nil
	}
	for rows.Next() {
		var lat, lon, f, s, m sql.NullFloat64
		var filter names.Name
		var date string
		if err := rows.Scan(&lat, &lon, &filter, &date, &f, &s, &m); err != nil {
			return nil, err
		}
		nan := math.NaN()
		b := Best{Lat: number(lat), Lon: number(lon), Filter: filter, FWHM: nan, Sky: nan, SkyMag: nan}
		last := len(list) - 1
		newSite := last < 0 || !same(list[last].Lat, b.Lat) || !same(list[last].Lon, b.Lon) || !list[last].Filter.Is(b.Filter)
		if newSite || date != night {
			settle()
		}
		if newSite {
			list = append(list, b)
		}
		night = date
		for _, v := range []struct {
			x    sql.NullFloat64
			into *[]float64
		}{{f, &fwhm}, {s, &sky}, {m, &mag}} {
			if v.x.Valid {
				*v.into = append(*v.into, v.x.Float64)
			}
		}
	}
	settle()
	return list, rows.Err()
}

// night takes the medians of one more night.
func (b *Best) night(date string, fwhm, sky, mag []float64) {
	b.Nights++
	if len(fwhm) >= enoughSubs {
		if m := stats.Median(fwhm); !(m >= b.FWHM) {
			b.FWHM, b.FWHMNight = m, date
		}
	}
	if len(sky) >= enoughSubs {
		if m := stats.Median(sky); !(m >= b.Sky) {
			b.Sky, b.SkyNight = m, date
		}
	}
	if len(mag) >= enoughSubs {
		if m := stats.Median(mag); !(m <= b.SkyMag) {
			b.SkyMag = m
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
